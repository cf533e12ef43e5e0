package store

import (
	"context"
	"encoding/hex"
	"time"
)

// Limits are the largest number of texts and the largest amount of money for one scope: all networks together, one
// network, or one phone number. A limit of 0 means no limit. Days and months are in UTC. Money is in millionths of the
// currency's unit. A text is charged in the transaction that claims it. The charge is given back only if the network
// surely did not take the text.
type Limits struct {
	TextsADay    int64
	MicrosADay   int64
	MicrosAMonth int64
}

// Deferred says how many texts one claim deferred because of one limit.
type Deferred struct {
	Scope string // "all", "gateway" or "number"
	Limit string // "texts" (texts a day), "money-day" or "money-month"
	Until int64  // when the texts may be claimed again, in Unix seconds
	Texts int
}

// Spend is how many texts were sent in a scope on one day and in its month, and what they cost. Texts that the network
// surely did not take are not counted.
type Spend struct {
	Scope               string // "" for all networks, or "gateway/" and the network's name
	Texts, MonthTexts   int64
	Segments            int64
	MonthSegments       int64
	Micros, MonthMicros int64
}

// spendRetentionDays is for how many days the daily spending is stored. The monthly limit needs one month. An operator
// who checks a network's bill needs three months, about 92 days; 100 days is an estimate.
const spendRetentionDays = 100

const (
	allScope     = ""
	gatewayScope = "gateway/"
	numberScope  = "number/"

	// stopNote is the Note of the text that confirms a STOP.
	stopNote = "stop"
)

// dayOf returns the number of the UTC day of an instant in Unix seconds.
func dayOf(at int64) int64 { return at / secondsADay }

func monthOf(at int64) (first, next time.Time) {
	t := time.Unix(at, 0).UTC()
	first = time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, time.UTC)
	return first, first.AddDate(0, 1, 0)
}

// budget is what was spent in one scope before this claim, and what the claim in progress adds.
type budget struct {
	words                   string // the scope in words, such as "to one number"; part of the Reason of a deferred text
	scope, key              string
	limits                  Limits
	texts, micros, month    int64
	newTexts, newSegs, cost int64
}

// over returns the name of the limit that one more text of this cost would exceed, and words for the operator. Both
// are "" if the text exceeds no limit. TextsADay never defers a text that confirms a STOP.
func (p *budget) over(m Message, cost int64) (limit, words string) {
	switch l := p.limits; {
	case m.Note != stopNote && l.TextsADay > 0 && p.texts+p.newTexts+1 > l.TextsADay:
		return "texts", "texts a day " + p.words
	case cost == 0:
		return "", ""
	case l.MicrosADay > 0 && p.micros+p.cost+cost > l.MicrosADay:
		return "money-day", "money a day " + p.words
	case l.MicrosAMonth > 0 && p.month+p.cost+cost > l.MicrosAMonth:
		return "money-month", "money a month " + p.words
	}
	return "", ""
}

// budgets are the budgets that one claim charges. Each budget is read when it is first needed. All are written at the
// end, in the transaction of the claim, so that a crash cannot lose a charge.
type budgets struct {
	tx       *Tx
	now      int64
	c        Claimant
	open     []*budget
	deferred []Deferred
}

const (
	sqlSpentDay   = `SELECT texts, micros FROM spend WHERE scope = $1 AND day = $2`
	sqlSpentMonth = `SELECT coalesce(sum(micros), 0) FROM spend WHERE scope = $1 AND day >= $2`
	sqlSpend      = `INSERT INTO spend (scope, day, texts, segments, micros) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (scope, day) DO UPDATE SET texts = spend.texts + excluded.texts,
		segments = spend.segments + excluded.segments, micros = spend.micros + excluded.micros`
	sqlByRoutes = `UPDATE message SET back = '' WHERE id = $1`
	sqlDefer    = `UPDATE message SET state = 'queued', held = 1, claim_at = $1, reason = $2 WHERE id = $3`
)

func (p *budgets) scopeBudget(scope, words, key string, l Limits) (*budget, error) {
	for _, q := range p.open {
		if q.key == key {
			return q, nil
		}
	}
	q := &budget{words: words, scope: scope, key: key, limits: l}
	if l != (Limits{}) {
		if _, err := p.tx.one(sqlSpentDay, args(key, dayOf(p.now)), &q.texts, &q.micros); err != nil {
			return nil, err
		}
	}
	if l.MicrosAMonth > 0 {
		first, _ := monthOf(p.now)
		if _, err := p.tx.one(sqlSpentMonth, args(key, dayOf(first.Unix())), &q.month); err != nil {
			return nil, err
		}
	}
	p.open = append(p.open, q)
	return q, nil
}

// of returns the budgets to which a text is charged: those of its phone number, of its network and of all networks
// together. A text that confirms a STOP is not charged to its number, nor is any text if numbers have no limit.
func (p *budgets) of(m Message) ([]*budget, error) {
	all, err := p.scopeBudget("all", "of all texts", allScope, p.c.All)
	if err != nil {
		return nil, err
	}
	own, err := p.scopeBudget("gateway", "through "+p.c.Gateway, gatewayScope+p.c.Gateway, p.c.Own)
	if err != nil || p.c.Number == (Limits{}) || m.Note == stopNote {
		return []*budget{all, own}, err
	}
	number, err := p.scopeBudget("number", "to one number", p.tx.numberScope(m.To), p.c.Number)
	return []*budget{number, own, all}, err
}

// take charges a text to its budgets, or defers the text if a limit would be exceeded. A text that is still charged
// from an earlier try is not charged again: its network recognises the idempotency key and sends the text only once.
func (p *budgets) take(m Message) (segments, cost int64, deferred bool, err error) {
	if m.charged {
		return 0, 0, false, nil
	}
	from, err := p.of(m)
	if err != nil {
		return 0, 0, false, err
	}
	if p.c.Segments != nil {
		segments = int64(p.c.Segments(m.Text))
	}
	cost = segments * p.c.Price
	for _, q := range from {
		limit, words := q.over(m, cost)
		switch {
		case limit == "":
		case q.scope == "gateway" && m.ReplyBy == p.c.Gateway:
			// The network that brought the text is over its limit, so the answer goes by the routes instead.
			return 0, 0, true, p.tx.do(sqlByRoutes, m.ID)
		default:
			return 0, 0, true, p.deferText(m, q.scope, limit, words)
		}
	}
	for _, q := range from {
		q.newTexts, q.newSegs, q.cost = q.newTexts+1, q.newSegs+segments, q.cost+cost
	}
	return segments, cost, false, nil
}

func (p *budgets) deferText(m Message, scope, limit, words string) error {
	until := (dayOf(p.now) + 1) * secondsADay
	if limit == "money-month" {
		_, next := monthOf(p.now)
		until = next.Unix()
	}
	if err := p.tx.do(sqlDefer, until, "deferred: "+words, m.ID); err != nil {
		return err
	}
	for i := range p.deferred {
		if h := &p.deferred[i]; h.Scope == scope && h.Limit == limit {
			h.Texts++
			return nil
		}
	}
	p.deferred = append(p.deferred, Deferred{Scope: scope, Limit: limit, Until: until, Texts: 1})
	return nil
}

// write stores what the claim added to the budgets.
func (p *budgets) write() error {
	for _, q := range p.open {
		if q.newTexts == 0 {
			continue
		}
		if err := p.tx.do(sqlSpend, q.key, dayOf(p.now), q.newTexts, q.newSegs, q.cost); err != nil {
			return err
		}
	}
	return nil
}

// numberScope returns the keyed hash that stands for a phone number in the column spend.scope.
func (tx *Tx) numberScope(phone Phone) string {
	return numberScope + hex.EncodeToString(tx.hash(phone))
}

const (
	chargeColumns = `SELECT gateway, phone, kind, charge_day, charge_segments, charge_micros FROM message`
	sqlCharged    = chargeColumns + `
	WHERE id = $1 AND tries = $2 AND key = $3 AND doubt = 0 AND accepted_at IS NULL AND charge_day IS NOT NULL`
	sqlUnsent = chargeColumns + `
	WHERE id = ` + asID + ` AND begun = 0 AND doubt = 0 AND accepted_at IS NULL AND charge_day IS NOT NULL`
	sqlUncharge = `UPDATE message SET charge_day = NULL, charge_segments = 0, charge_micros = 0 WHERE id = $1`
	sqlGiveBack = `UPDATE spend SET texts = max(0, texts - 1), segments = max(0, segments - $1),
		micros = max(0, micros - $2)
	WHERE scope = $3 AND day = $4`
)

// giveBack subtracts the charge of a text again if the network surely did not take the text.
func (tx *Tx) giveBack(s Settlement) error {
	return tx.uncharge(s.id, sqlCharged, args(s.id, s.try, s.key))
}

// giveBackUnsent is giveBack for a text that ends without a settlement. It was claimed, but its try has not begun: the
// process that claimed it ended, or does not know that the claim was stored.
func (tx *Tx) giveBackUnsent(id int64) error { return tx.uncharge(id, sqlUnsent, args(id)) }

// uncharge subtracts the charge of a text, if the query finds it.
func (tx *Tx) uncharge(id int64, query string, of []any) error {
	var gateway, phone, kind string
	var day, segments, micros int64
	charged, err := tx.one(query, of, &gateway, &phone, &kind, &day, &segments, &micros)
	if err != nil || !charged {
		return err
	}
	scopes := []string{allScope, gatewayScope + gateway}
	if kind != stopNote {
		scopes = append(scopes, tx.numberScope(Phone(phone)))
	}
	for _, scope := range scopes {
		if err := tx.do(sqlGiveBack, segments, micros, scope, day); err != nil {
			return err
		}
	}
	return tx.do(sqlUncharge, id)
}

const (
	sqlSpentByScope = `SELECT scope, sum(CASE WHEN day = $1 THEN texts ELSE 0 END), sum(texts),
		sum(CASE WHEN day = $1 THEN segments ELSE 0 END), sum(segments),
		sum(CASE WHEN day = $1 THEN micros ELSE 0 END), sum(micros)
	FROM spend WHERE (scope = '' OR scope >= 'gateway/' AND scope < 'gateway0') AND day BETWEEN $2 AND $1
		GROUP BY scope ORDER BY scope`
	sqlSpentToOne = `SELECT count(*), coalesce(max(x.scope), ''), coalesce(max(x.texts), 0)
	FROM (SELECT s.scope, s.texts FROM spend s WHERE s.day = ` + asID + ` AND s.scope > $2 AND s.scope < 'number0'
		ORDER BY s.scope LIMIT CAST($3 AS BIGINT)) x`
)

// Spends returns what was sent today and this month (in UTC): first for all networks together, then for each network
// that sent texts.
func (tx *Tx) Spends(now int64) ([]Spend, error) {
	first, _ := monthOf(now)
	list, err := rows(tx, sqlSpentByScope, args(dayOf(now), dayOf(first.Unix())), func(s *Spend) []any {
		return args(&s.Scope, &s.Texts, &s.MonthTexts, &s.Segments, &s.MonthSegments, &s.Micros, &s.MonthMicros)
	})
	if len(list) == 0 { // if there is a row, the first row is for all networks together: its scope is ""
		list = []Spend{{}}
	}
	return list, fail("spends", err)
}

// CountToOne returns the most texts sent to one phone number today (in UTC), and how many numbers were sent texts that
// count. It looks at all of these numbers, in pages.
func (s *Store) CountToOne(ctx context.Context, now int64) (most, numbers int64, err error) {
	c := Count{size: countPage, at: position{key: numberScope}}
	c.parts = []countPart{func(tx *Tx, at *position, size int64) (looked int64, err error) {
		texts := int64(0)
		_, err = tx.one(sqlSpentToOne, args(dayOf(now), at.key, size), &looked, &at.key, &texts)
		most, at.ended = max(most, texts), looked < size
		return looked, err
	}}
	err = s.countAll(ctx, &c)
	return most, c.Looked, err
}

const sqlReleaseDeferred = `UPDATE message SET held = 0, claim_at = due_at, reason = ''
	WHERE id IN (SELECT h.id FROM message h WHERE h.held = 1 AND h.claim_at IS NOT NULL LIMIT CAST($1 AS BIGINT))`

// ReleaseDeferred makes at most limit deferred texts due at once, because the limits may have changed or another
// network may send them now. It runs when the service starts, and when a network works again. The result n is the
// number of texts released.
func (tx *Tx) ReleaseDeferred(limit int) (n int, err error) {
	rows, err := tx.exec(sqlReleaseDeferred, limit)
	return int(rows), fail("release deferred", err)
}
