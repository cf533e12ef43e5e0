package store

import (
	"crypto/rand"
	"errors"
	"math/big"
	"time"

	"rowbell/engine/circle"
)

const (
	sqlMakeCircle = `INSERT INTO circle (number, place_id, made_at) VALUES ($1, $2, $3)
	ON CONFLICT (number) DO NOTHING`
	sqlPutPerson = `INSERT INTO circle_member (circle_id, grower_id, name, joined, keeper, guest, consent_at,
		consent_text, language, channel)
	VALUES ($1, $2, $3, $4, $4, $5, $6, $7, $8, $9)
	ON CONFLICT (circle_id, grower_id) DO UPDATE SET name = excluded.name, guest = excluded.guest, left_day = NULL,
		consent_at = excluded.consent_at, consent_text = excluded.consent_text, language = excluded.language,
		channel = excluded.channel
	RETURNING id`
	sqlInCircle  = `UPDATE grower SET circle_id = $1, in_circles = 1 WHERE id = $2`
	sqlInCircles = `UPDATE grower SET in_circles = 1 WHERE id = $1`
	sqlPlanSoon  = `UPDATE circle SET plan_at = $1
	WHERE id = $2 AND ended_at IS NULL AND (plan_at IS NULL OR plan_at > $1)`
	sqlPlanPlace = `UPDATE circle SET plan_at = $1 WHERE place_id = $2 AND plan_at > $1`
	// The days and mornings of a circle are those of its keeper's place.
	sqlCirclePlace = `UPDATE circle SET place_id = $1 WHERE id = $2 AND EXISTS
		(SELECT 1 FROM circle_member m WHERE m.circle_id = $2 AND m.grower_id = $3 AND m.keeper = 1)`

	sqlPerson = `SELECT ` + personColumns + ` FROM circle_member m LEFT JOIN grower g ON g.id = m.grower_id
	WHERE m.id = ` + asID + ` AND EXISTS
		(SELECT 1 FROM circle_member me WHERE me.circle_id = m.circle_id AND me.grower_id = CAST($2 AS BIGINT))`
	sqlPrompted = `SELECT g.place_id, coalesce(p.until, -1) FROM circle_member m JOIN grower g ON g.id = m.grower_id
	LEFT JOIN prompt p ON p.phone = g.phone WHERE m.id = ` + asID
	sqlAskedToDial = `SELECT count(*) FROM message WHERE phone = $1 AND kind = $2 AND due_at > $3 AND due_at <= $4
		AND state NOT IN ('refused', 'expired', 'withdrawn')`
)

// planSoon makes a circle due: its turns may have to change.
func (tx *Tx) planSoon(circleID, now int64) error {
	if circleID == 0 {
		return nil
	}
	return tx.do(sqlPlanSoon, now, circleID)
}

// moveCircle follows a grower who has moved to another place.
func (l *Ledger) moveCircle() error {
	if l.circleID == 0 {
		return nil
	}
	return l.do(sqlCirclePlace, l.place.ID, l.circleID, l.id)
}

// Circle returns the circle of which the grower is a member or has asked to be one; false if there is none. Who has
// only asked sees the keeper without the phone, and no tools and turns.
func (l *Ledger) Circle() (v circle.Circle, in bool, err error) {
	if l.circleID == 0 {
		return v, false, nil
	}
	c, err := l.tx.circle(sqlCircle, l.circleID)
	if err != nil || c == nil {
		return v, false, fail("circle", err)
	}
	self := c.ofGrower(l.id)
	if c.ended || self == nil || self.left != 0 {
		return v, false, nil
	}
	v = circle.Circle{Number: c.number, Self: self.ID, Waits: c.planAt != 0 && c.planAt <= l.now}
	if v.Asks, err = l.asksOf(c.id, self.ID); err != nil {
		return v, false, err
	}
	if !self.Joined {
		v.Members = []circle.Member{self.member(l.now)}
		if k := c.keeper(); k != nil {
			v.Members = []circle.Member{withoutPhone(k.member(l.now)), self.member(l.now)}
		}
		return v, true, nil
	}
	for i := range c.people {
		if p := &c.people[i]; p.left == 0 {
			v.Members = append(v.Members, p.member(l.now))
		}
	}
	tools, err := l.tx.sharedTools(c.id)
	if err != nil {
		return v, false, err
	}
	v.Tools = tools[c.id]
	held, err := l.held(c.id)
	for _, t := range held {
		v.Turns = append(v.Turns, t.HeldTurn)
	}
	return v, err == nil, err
}

func withoutPhone(m circle.Member) circle.Member {
	m.Phone = ""
	return m
}

// held returns the turns of a circle of today and later.
func (l *Ledger) held(circleID int64) ([]heldTurn, error) {
	rows, err := l.tx.turns(l.Today()-circle.HoldDays, circleID)
	if err != nil {
		return nil, err
	}
	told, err := l.tx.toldTurns(plotsOf(rows[circleID]))
	return heldTurns(rows[circleID], told, l.Today()), err
}

// FindCircle returns a circle by its number, with its tools. Of its persons only the keeper is in it, without the
// phone. Self is 0 if the grower is nobody in it.
func (l *Ledger) FindCircle(number int) (v circle.Circle, found bool, err error) {
	c, err := l.findCircle(number)
	if err != nil || c == nil || c.ended {
		return v, false, fail("find circle", err)
	}
	v.Number = c.number
	if k := c.keeper(); k != nil {
		v.Members = []circle.Member{withoutPhone(k.member(l.now))}
	}
	if self := c.ofGrower(l.id); self != nil && self.left == 0 {
		v.Self = self.ID
		if v.Asks, err = l.asksOf(c.id, self.ID); err != nil {
			return v, false, err
		}
	}
	tools, err := l.tx.sharedTools(c.id)
	v.Tools = tools[c.id]
	return v, err == nil, err
}

func (l *Ledger) findCircle(number int) (*openCircle, error) {
	if !circle.ValidNumber(number) {
		return nil, nil
	}
	return l.tx.circle(sqlCircleNumber, int64(number))
}

// enter opens a circle for a change, and returns who the grower is in it: nil, or a person who may have left.
func (l *Ledger) enter(id int64) (c *openCircle, self *memberRow, err error) {
	if err = l.tx.lockCircle(id); err == nil {
		c, err = l.tx.circle(sqlCircle, id)
	}
	if err == nil && c == nil {
		err = circle.ErrNoCircle
	}
	if err != nil {
		return nil, nil, err
	}
	return c, c.ofGrower(l.id), nil
}

// enterNumber is enter for the number of a circle.
func (l *Ledger) enterNumber(number int) (*openCircle, *memberRow, error) {
	c, err := l.findCircle(number)
	if err != nil {
		return nil, nil, err
	}
	if c == nil {
		return nil, nil, circle.ErrNoCircle
	}
	return l.enter(c.id)
}

// own opens the circle of which the grower is a member for a change.
func (l *Ledger) own() (*openCircle, *memberRow, error) {
	c, self, err := l.enter(l.circleID)
	switch {
	case err != nil:
		return nil, nil, err
	case c.ended || self == nil || self.left != 0:
		return nil, nil, circle.ErrNoCircle
	case !self.Joined:
		return nil, nil, circle.ErrNotAllowed
	}
	return c, self, nil
}

// putPerson adds this grower to a circle with the words that the grower agreed to, or lets in one who had left. A
// keeper is joined from the beginning.
func (l *Ledger) putPerson(circleID int64, name, words string, keeper, guest bool) (id int64, err error) {
	version := ConsentVersion(l.language, words)
	if err = l.do(sqlKeepWords, version, l.language, words); err == nil {
		_, err = l.tx.one(sqlPutPerson, args(circleID, l.id, name, keeper, guest, l.now, version, l.language,
			l.channel), &id)
	}
	if err == nil && guest {
		err = l.do(sqlInCircles, l.id)
	} else if err == nil {
		err = l.do(sqlInCircle, circleID, l.id)
		l.circleID = circleID
	}
	l.inCircles = true
	if err == nil {
		err = l.nameFromCircle(name)
	}
	return id, err
}

// MakeCircle makes a circle with this grower as keeper, and returns its number. Numbers are drawn, so that nobody
// guesses one from another.
func (l *Ledger) MakeCircle(name, words string) (number int, err error) {
	if err := l.mayJoin(name); err != nil {
		return 0, fail("make circle", err)
	}
	for most := int64(9 * circle.LeastNumber / 10); ; most *= 10 {
		for range maxDraws {
			n, err := rand.Int(l.tx.s.random, big.NewInt(most))
			if err != nil {
				return 0, fail("make circle", err)
			}
			number := circle.Checked(int(n.Int64() + most/9))
			id, fresh, err := l.tx.insert(sqlMakeCircle, number, l.place.ID, l.now)
			if err == nil && fresh {
				_, err = l.putPerson(id, name, words, true, false)
			}
			if err != nil || fresh {
				return number, fail("make circle", err)
			}
		}
	}
}

// mayJoin returns why the grower cannot be a person of a circle under this name. A grower who only asked to join
// another circle does not ask there any more.
func (l *Ledger) mayJoin(name string) error {
	switch {
	case !l.Known():
		return ErrUnknown
	case name == "":
		return errors.New("a person of a circle needs a name")
	case l.circleID == 0:
		return nil
	}
	c, self, err := l.enter(l.circleID)
	switch {
	case errors.Is(err, circle.ErrNoCircle):
		l.circleID = 0
		return nil
	case err != nil:
		return err
	case self != nil && self.Joined:
		return circle.ErrInCircle
	}
	if self != nil {
		err = l.tx.leave(c, self, l.Today(), l.now)
	}
	l.circleID = 0
	return err
}

// JoinCircle asks the keeper of a circle whether the grower may join, and stores the words that the grower agreed to.
func (l *Ledger) JoinCircle(number int, name, words string) (circle.Ask, error) {
	a, err := l.joinCircle(number, name, words)
	return a, fail("join circle", err)
}

func (l *Ledger) joinCircle(number int, name, words string) (a circle.Ask, err error) {
	if err := l.mayJoin(name); err != nil {
		return a, err
	}
	c, self, err := l.enterNumber(number)
	if err != nil {
		return a, err
	}
	keeper := c.keeper()
	switch {
	case c.ended || keeper == nil:
		return a, circle.ErrNoCircle
	case c.joined() >= circle.MaxMembers:
		return a, circle.ErrFull
	}
	if err := l.mayAsk(); err != nil {
		return a, err
	}
	guest := self != nil && self.left == 0 && self.Guest // stays one until the keeper says yes
	id, err := l.putPerson(c.id, name, words, false, guest)
	if err == nil && guest {
		err = l.do(sqlInCircle, c.id, l.id)
		l.circleID = c.id
	}
	if err != nil {
		return a, err
	}
	return l.putAsk(c, circle.Ask{Kind: circle.AskJoin, From: id, To: keeper.ID}, 0)
}

// joined returns how many members there are.
func (c *openCircle) joined() (n int) {
	for _, p := range c.people {
		if p.Joined {
			n++
		}
	}
	return n
}

// Person returns a person of a circle of which this grower is, or was, a person too. Otherwise it returns ErrNoCircle.
func (l *Ledger) Person(id int64) (circle.Member, error) {
	var p memberRow
	known, err := l.tx.one(sqlPerson, args(id, l.id), p.into()...)
	if err == nil && !known {
		return circle.Member{}, circle.ErrNoCircle
	}
	return p.member(l.now), fail("person", err)
}

// AskedToDial reports whether a text that was due after an instant asked this grower to answer a question of a circle
// by dial.
func (l *Ledger) AskedToDial(after int64) (bool, error) {
	if !l.inCircles {
		return false, nil
	}
	var n int
	_, err := l.tx.one(sqlAskedToDial, args(l.phone.E164(), circle.DialText, after, l.now), &n)
	return n > 0, fail("asked to dial", err)
}

// QuietFrom sets the hour of the day from which the texts to other persons of a circle wait until morning.
func (l *Ledger) QuietFrom(hour int) { l.quietFrom = hour }

// Prompted reports whether a person of a circle has an open prompt. It is also true from the hour of QuietFrom until
// morning at the person's place: a text that waits until then must not ask for a digit, because the person may be asked
// something else before it is sent.
func (l *Ledger) Prompted(id int64) (bool, error) {
	var place, until int64
	known, err := l.tx.one(sqlPrompted, args(id), &place, &until)
	if err != nil || !known || until >= l.now {
		return err == nil && known, fail("prompted", err)
	}
	if l.quietFrom == 0 {
		return false, nil
	}
	places, err := l.tx.placesByID([]int64{place})
	if err != nil {
		return false, fail("prompted", err)
	}
	hour := time.Unix(l.now, 0).In(places[place].loc).Hour()
	return hour >= l.quietFrom || hour < places[place].MorningHour, nil
}

// LeaveCircle ends the membership, or takes back the question to join. What others owe the grower and what the grower
// owes stays. A keeper must hand the circle over first if there are other members; the circle ends with its last one.
func (l *Ledger) LeaveCircle() error {
	c, self, err := l.enter(l.circleID)
	switch {
	case err != nil:
		return err
	case c.ended || self == nil || self.left != 0:
		return circle.ErrNoCircle
	case self.Keeper && c.joined() > 1:
		return circle.ErrKeeper
	}
	l.circleID = 0
	return fail("leave circle", l.tx.leave(c, self, l.Today(), l.now))
}

// RemoveMember makes another member leave the circle of which this grower is the keeper. What the member owes and is
// owed stays.
func (l *Ledger) RemoveMember(id int64) error {
	c, self, err := l.own()
	if err != nil {
		return err
	}
	p := c.person(id)
	switch {
	case !self.Keeper:
		return circle.ErrNotAllowed
	case p == nil || !p.Joined || p.ID == self.ID:
		return circle.ErrNoCircle
	}
	return fail("remove member", l.tx.leave(c, p, l.Today(), l.now))
}
