package store

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"sync/atomic"
)

// Rounds is one run of the bell (the reminder job) over the due plots. The bell reads growers in batches, plans their
// rounds, and writes the round of each grower who has not changed meanwhile.
//
// To see who has changed, Unchanged would read each grower again. While nobody else writes about growers, that takes a
// quarter of the writer's time (measured) and finds nothing. So a file counts what others have written, and growers
// are read again only if there is anything. On a server they are always read again: other processes write too.
type Rounds struct {
	s   *Store
	own atomic.Int64 // how many of fileDB.changes are of Write
}

// Rounds begins a run.
func (s *Store) Rounds() *Rounds { return &Rounds{s: s} }

// Due calls Tx.DueGrowers in a transaction of its own. The list but must contain the growers whose rounds are not yet
// written.
func (r *Rounds) Due(ctx context.Context, now int64, limit int, but ...DueGrower) (due []DueGrower, err error) {
	asOf := r.others()
	err = r.s.View(ctx, func(tx *Tx) (err error) {
		due, err = tx.DueGrowers(now, limit, but...)
		return err
	})
	for i := range due {
		due[i].asOf = asOf
	}
	return due, err
}

// Write is like Background. The steps must write only by WriteRounds and AttendSoon, and only about growers that Due
// returned. What they write about one grower changes nothing that Due reads of another.
func (r *Rounds) Write(ctx context.Context, step func(tx *Tx) (done bool, err error)) error {
	return r.s.inSlices(ctx, r, step)
}

// others returns how many transactions that were not of Write may have changed what Due reads. A transaction is counted
// after others can see its changes. The result is -1 on a server.
func (r *Rounds) others() int64 {
	if r.s.server != nil {
		return -1
	}
	// A slice of Write is added to own first. So changes never includes one that own lacks.
	changes := r.s.changes.Load()
	return changes - r.own.Load()
}

// undisturbed reports whether others have written nothing since all these growers were read.
func (r *Rounds) undisturbed(read []DueGrower) bool {
	if r == nil {
		return false
	}
	now := r.others()
	for i := range read {
		if read[i].asOf != now {
			return false
		}
	}
	return now >= 0
}

const sqlDueAgain = `SELECT ` + growerColumns + ` FROM grower g
	WHERE g.id IN ` + idList + ` AND g.stopped_at IS NULL AND g.unlinked_at IS NULL ORDER BY g.id`

// Unchanged reports for each of these growers, which Due returned earlier for the same now, whether all that it
// returned is still the same. So plans can be made without a transaction, and written only if they still hold. On a
// server a grower counts as changed with whom another transaction works just now.
func (tx *Tx) Unchanged(now int64, read []DueGrower) ([]bool, error) {
	same := make([]bool, len(read))
	if tx.rounds.undisturbed(read) {
		for i := range same {
			same[i] = true
		}
		return same, nil
	}
	list, err := tx.lockGrowers(growerIDs(read))
	if err != nil {
		return nil, fail("due again", err)
	}
	r, err := tx.roll(sqlDueAgain, ids(list))
	if err == nil {
		err = tx.fillDue(&r, now)
	}
	for i := range read {
		if at, there := r.at[read[i].ID]; there {
			r.growers[at].asOf = read[i].asOf
			same[i] = reflect.DeepEqual(r.growers[at], read[i])
		}
	}
	return same, fail("due again", err)
}

// besidePlans are the tables of which DueGrowers reads nothing. A row that is deleted there takes no other with it.
var besidePlans = []string{"message", "callback", "session", "exchange", "prompt", "message_plot", "spend",
	"early_receipt", "attention", "attention_due", "attention_place"}

// changesPlans reports whether a statement may change what DueGrowers reads.
func changesPlans(query string) bool {
	verb, rest, _ := strings.Cut(query, " ")
	switch verb {
	case "SELECT", "SAVEPOINT", "RELEASE", "ROLLBACK":
		return false
	case "INSERT", "DELETE":
		_, rest, _ = strings.Cut(rest, " ") // after INTO or FROM
	case "UPDATE":
	default:
		return true
	}
	if end := strings.IndexAny(rest, " \n"); end >= 0 {
		rest = rest[:end]
	}
	return !slices.Contains(besidePlans, rest)
}

// countChanges counts a transaction of the writer, with a slice of the work x and with jobs. It must be called after
// the commit.
func (w *writer) countChanges(x *work, jobs []*job) {
	if x != nil && x.plans {
		if x.rounds != nil {
			x.rounds.own.Add(1)
		}
		w.s.changes.Add(1)
	}
	if slices.ContainsFunc(jobs, func(j *job) bool { return j.plans }) {
		w.s.changes.Add(1)
	}
}

// countForeign counts it as one change if other connections, for example that of a command, have written since the last
// call. It must be called in a transaction that writes, so that no other connection can write until the transaction
// ends.
func (w *writer) countForeign() error {
	var version int64
	if err := w.version.QueryRow().Scan(&version); err != nil {
		return err
	}
	if version != w.versionWas {
		w.versionWas = version
		w.s.changes.Add(1)
	}
	return nil
}
