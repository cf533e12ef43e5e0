package store

const (
	sqlNewestCallback = `SELECT coalesce(max(at), 0) FROM callback`
	sqlNewestMessage  = `SELECT created_at FROM message WHERE id = (SELECT max(id) FROM message)`
	sqlOverduePlaces  = `SELECT pl.zone, pl.morning_hour, min(p.look_at) FROM plot p
	JOIN grower g ON g.id = p.grower_id JOIN place pl ON pl.id = g.place_id
	WHERE p.look_at <= $1 AND g.stopped_at IS NULL AND g.unlinked_at IS NULL
	GROUP BY pl.id, pl.zone, pl.morning_hour`
)

// Newest returns the newest instant at which a callback came or a text was written, in Unix seconds; 0 if there is
// none.
func (tx *Tx) Newest() (int64, error) {
	var callback, message int64
	_, err := tx.one(sqlNewestCallback, nil, &callback)
	if err == nil {
		_, err = tx.one(sqlNewestMessage, nil, &message)
	}
	return max(callback, message), fail("newest", err)
}

// OverduePlace is a place where plots are due, but the bell (the reminder job) has not looked at them.
type OverduePlace struct {
	Zone        string
	MorningHour int
	Oldest      int64 // when the plot that has waited longest became due
}

// OverduePlaces returns the places with plots that were due at this instant and that the bell (the reminder job) has
// not looked at.
func (tx *Tx) OverduePlaces(at int64) ([]OverduePlace, error) {
	list, err := rows(tx, sqlOverduePlaces, args(at), func(p *OverduePlace) []any {
		return args(&p.Zone, &p.MorningHour, &p.Oldest)
	})
	return list, fail("overdue places", err)
}

// Growers returns the number of growers in the records. Growers without a phone number are counted too.
func (tx *Tx) Growers() (n int64, err error) {
	_, err = tx.one(sqlSeen, nil, &n, new(int64))
	return n, fail("growers", err)
}

// Stats are counts for the operator. Growers without a phone number and their plots are not counted.
type Stats struct {
	Growers, Stopped int64
	OpenPlots        int64
	DuePlots         int64 // plots at which the bell (the reminder job) should look now
	LeftAlone        int64 // phones that are left alone, see Exchange
	Sessions         int64 // sessions that have not expired
	Outbox           map[State]int64
	Oldest           map[State]int64 // for each state that is not final: due time of the text that has waited longest
}

const (
	sqlStats = `SELECT (SELECT count(*) FROM grower WHERE unlinked_at IS NULL),
	(SELECT count(*) FROM grower WHERE stopped_at IS NOT NULL AND unlinked_at IS NULL),
	(SELECT count(*) FROM plot WHERE closed_day IS NULL AND grower_id NOT IN
		(SELECT g.id FROM grower g WHERE g.unlinked_at IS NOT NULL)),
	(SELECT count(*) FROM plot WHERE look_at <= $1),
	(SELECT count(*) FROM session WHERE expires_at >= $1),
	(` + sqlLeftAloneCount + `)`
	sqlStatsOutbox = `SELECT state, count(*), coalesce(min(CASE WHEN ended_at IS NULL THEN due_at END), 0)
		FROM message GROUP BY state`
)

// Stats returns the counts. It reads whole tables, so call it about once a minute, not for each request.
func (tx *Tx) Stats(now int64) (Stats, error) {
	st := Stats{Outbox: map[State]int64{}, Oldest: map[State]int64{}}
	_, err := tx.one(sqlStats, args(now), &st.Growers, &st.Stopped, &st.OpenPlots, &st.DuePlots, &st.Sessions,
		&st.LeftAlone)
	if err == nil {
		err = tx.each(sqlStatsOutbox, nil, func(scan func(...any) error) error {
			var state State
			var n, oldest int64
			err := scan(&state, &n, &oldest)
			st.Outbox[state] = n
			if oldest > 0 {
				st.Oldest[state] = oldest
			}
			return err
		})
	}
	return st, fail("stats", err)
}

// Waiting is the number of texts that wait for the same reason.
type Waiting struct {
	// What is the reason: "due", "later" (not yet due), "again" (for a further try), "doubt" (for a further try after
	// an uncertain outcome), "sending" (for the result of a try) or "held" (deferred by a limit).
	What      string
	Texts     int64
	Oldest    int64 // when the oldest of these texts was written
	EndsFirst int64 // when the useful time of one of these texts ends first
}

const sqlWaitingBySort = `SELECT CASE WHEN held = 1 THEN 'held' WHEN state = 'claimed' THEN 'sending'
		WHEN doubt = 1 THEN 'doubt' WHEN tries > 0 THEN 'again' WHEN claim_at > $1 THEN 'later' ELSE 'due' END,
		count(*), min(created_at), min(useful_until)
	FROM message WHERE claim_at IS NOT NULL GROUP BY 1 ORDER BY 3, 1`

// Waiting counts the waiting texts by the reason why they wait. The reason of the oldest text comes first. Waiting
// reads all waiting texts, so call it only when the operator asks.
func (tx *Tx) Waiting(now int64) ([]Waiting, error) {
	list, err := rows(tx, sqlWaitingBySort, args(now), func(w *Waiting) []any {
		return args(&w.What, &w.Texts, &w.Oldest, &w.EndsFirst)
	})
	return list, fail("waiting", err)
}

// Ended is how many texts are in one state.
type Ended struct {
	State State
	Texts int64
}

const sqlEndedSince = `SELECT state, count(*) FROM message WHERE claim_at IS NULL
	AND coalesce(ended_at, accepted_at) >= $1
	GROUP BY state ORDER BY 2 DESC, 1`

// EndedSince counts the texts that ended or were accepted since an instant. It reads all texts, so call it only when
// the operator asks.
func (tx *Tx) EndedSince(at int64) ([]Ended, error) {
	list, err := rows(tx, sqlEndedSince, args(at), func(e *Ended) []any { return args(&e.State, &e.Texts) })
	return list, fail("ended", err)
}
