package store

import (
	"fmt"
	"slices"

	"rowbell/engine"
)

// ContactKind is what came of a call or a visit of staff. The table contact stores the numbers.
type ContactKind uint8

const (
	NotReached ContactKind = iota + 1
	ReachedByPhone
	CameBy
)

func (k ContactKind) String() string {
	names := [...]string{NotReached: "not reached", ReachedByPhone: "reached", CameBy: "came by"}
	if k == 0 || int(k) >= len(names) {
		return fmt.Sprintf("%d?", uint8(k))
	}
	return names[k]
}

// Contact is a call or a visit of staff about a plot. The trail says who it was.
type Contact struct {
	PlotID  int64
	At      int64 // in Unix seconds
	On      engine.Day
	What    ContactKind
	Window  int            // Window.Number of the window that was next; 0: none
	Reasons engine.Reasons // about which staff talked with the grower
}

// heardContact is what fillHeard reads of a contact.
type heardContact struct {
	id      int64
	what    ContactKind
	on      engine.Day
	window  int
	reasons engine.Reasons
}

const (
	sqlContact = `INSERT INTO contact (plot_id, at, day, what, window_no, reasons)
	VALUES ($1, $2, $3, $4, $5, $6)`
	sqlContacts = `SELECT c.plot_id, c.at, c.day, c.what, c.window_no, c.reasons FROM contact c
	WHERE c.plot_id IN ` + idList + ` ORDER BY c.plot_id, c.id`
)

// Contacted stores what came of a call or a visit about a plot. What staff learned of weeds and weeding must be logged
// before. The grower's reasons of now are then no reason any more, unless the grower was not reached. For a plot that
// is not open it returns ErrNoPlot.
func (l *Ledger) Contacted(no int, what ContactKind) error {
	if _, err := l.find(no); err != nil {
		return err
	}
	list, err := l.tx.WatchedOf([]int64{l.id}, l.now, 0)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(list, func(w Watched) bool { return w.No == no })
	if i < 0 { // the number of the grower belongs to somebody else
		return ErrNoPlot
	}
	a, err := list[i].Attention()
	if err != nil {
		return err
	}
	if what == NotReached {
		a.Reasons = 0
	}
	if err := l.do(sqlContact, list[i].PlotID, l.now, l.Today(), what, a.Next.Number,
		int64(a.Reasons)); err != nil {
		return fail("contact", err)
	}
	return l.tx.Attend(l.id, l.now)
}

// Contacts returns the calls and visits about plots, oldest first. The keys of the map are plot ids.
func (tx *Tx) Contacts(plots []int64) (map[int64][]Contact, error) {
	all := map[int64][]Contact{}
	list, err := rows(tx, sqlContacts, args(ids(plots)), func(c *Contact) []any {
		return args(&c.PlotID, &c.At, &c.On, &c.What, &c.Window, &c.Reasons)
	})
	for _, c := range list {
		all[c.PlotID] = append(all[c.PlotID], c)
	}
	return all, fail("contacts", err)
}

// ReachedLately is an open plot about whose grower staff noted that they have reached the grower.
type ReachedLately struct {
	ContactID, PlotID, GrowerID, PlaceID, At int64

	Phone Phone
	No    int
	Label string
	On    engine.Day
	What  ContactKind
}

// lastContacts is how many of the last contacts of all places are looked at for those of some places.
const lastContacts = 300

const (
	sqlReachedLately = `SELECT c.id, p.id, g.id, g.place_id, c.at, g.phone, p.no, p.label, c.day, c.what
	FROM contact c CROSS JOIN plot p CROSS JOIN grower g
	WHERE g.place_id IN ` + idList + `
		AND c.id > (SELECT coalesce(max(x.id), 0) - CAST($2 AS BIGINT) FROM contact x) AND c.what > 1 AND c.at >= $3
		AND p.id = c.plot_id AND p.closed_day IS NULL AND g.id = p.grower_id AND g.unlinked_at IS NULL
	ORDER BY c.id DESC LIMIT CAST($4 AS BIGINT)`
	sqlTakeBackContact = `DELETE FROM contact WHERE id = ` + asID + ` AND plot_id = $2 AND day = $3`
)

// ReachedLately returns the last calls and visits since an instant in which staff reached growers of the scope, the
// newest first, at most limit of them. It looks at the last of all places only, so it may miss some.
func (tx *Tx) ReachedLately(scope Scope, since int64, limit int) ([]ReachedLately, error) {
	list, err := rows(tx, sqlReachedLately, args(ids(scope), lastContacts, since, limit),
		func(c *ReachedLately) []any {
			return args(&c.ContactID, &c.PlotID, &c.GrowerID, &c.PlaceID, &c.At, &c.Phone, &c.No, &c.Label, &c.On,
				&c.What)
		})
	return list, fail("reached lately", err)
}

// TakeBackContact deletes a call or a visit of today about a plot, which was noted by mistake. The reasons of the plot
// count again. It reports false if there is no such contact of today.
func (l *Ledger) TakeBackContact(no int, id int64) (found bool, err error) {
	plot, err := l.PlotID(no)
	if err != nil {
		return false, err
	}
	n, err := l.tx.exec(sqlTakeBackContact, id, plot, l.Today())
	if err != nil || n == 0 {
		return false, fail("take back a contact", err)
	}
	return true, l.tx.Attend(l.id, l.now)
}

const sqlTellTrouble = `INSERT INTO trouble (grower_id, kind, day) VALUES ($1, $2, $3)
	ON CONFLICT (grower_id) DO UPDATE SET kind = excluded.kind, day = excluded.day`

// TellTrouble stores that the grower has trouble with the tool. Of a phone without records nothing is stored.
func (l *Ledger) TellTrouble(t engine.Trouble) error {
	if !l.Known() {
		return nil
	}
	err := l.do(sqlTellTrouble, l.id, t, l.SaidOn())
	if err == nil {
		err = l.do(sqlAttendSoon, l.id)
	}
	return fail("tell trouble", err)
}
