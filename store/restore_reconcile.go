package store

import (
	"bytes"
	"errors"
	"strings"
)

// Reconciled is what a restore changed in the restored records.
//
// Waiting texts may have been sent after the backup. So they are withdrawn and count as not sent, and the bell (the
// reminder job) writes reminders that are correct today. Dialogues, prompts and move codes are deleted, because growers
// may have continued or used them after the backup. Later decisions are copied from the replaced records: STOP, START,
// erasures, moved numbers and the operator hold. A new table with pending work or with decisions of growers needs its
// own step in reconcile.
type Reconciled struct {
	Reminders, Others int  // number of reminders and of other texts that were withdrawn
	Stopped, Started  int  // growers whose STOP or START was copied from the replaced records
	Strangers         int  // STOPs that were copied for phone numbers without records
	Erased            int  // growers who were erased after the backup
	Moved, Unlinked   int  // growers whose number changed after the backup, or was unlinked
	Held              bool // true if the operator hold is on
	Returned          int  // growers of the backup who were missing in the replaced records for an unknown reason
}

const sqlTakeSpent = `INSERT INTO spend (scope, day, texts, segments, micros) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (scope, day) DO UPDATE SET texts = max(spend.texts, excluded.texts),
		segments = max(spend.segments, excluded.segments), micros = max(spend.micros, excluded.micros)`

// takeSpent stores the higher count of the backup and of the replaced records, so that nobody can spend a limit twice.
// A row for a phone number contains a hash. If the hash key differs, the row matches no number and does no harm.
func (tx *Tx) takeSpent(old replaced) error {
	for _, s := range old.spent {
		if err := tx.do(sqlTakeSpent, s.scope, s.day, s.texts, s.segments, s.micros); err != nil {
			return err
		}
	}
	return nil
}

// reconcile changes restored records according to what happened after the backup.
func (tx *Tx) reconcile(old replaced, now int64) (t Reconciled, err error) {
	for _, do := range []func() error{
		func() error { return tx.skipIDs(old) },
		func() error { return tx.withdrawAll(&t, now) },
		func() error { return tx.endDialogues() },
		func() error { return tx.takeOperatorHold(&t, old) },
		func() error { return tx.takeSpent(old) },
		func() error { return tx.takeNumbers(&t, old, now) },
		func() error { return tx.takeStops(&t, old) },
	} {
		if err := do(); err != nil {
			return t, fail("take over", err)
		}
	}
	return t, nil
}

// skipped is how many ids are skipped if nobody knows which ids were used after the backup.
const skipped = 1_000_000

const sqlSetSequence = `UPDATE sqlite_sequence SET seq = $1 WHERE name = $2`

// skipIDs makes new ids continue after the ids that were used after the backup, because a network may remember
// idempotency keys with these ids.
func (tx *Tx) skipIDs(old replaced) error {
	had, err := tx.sequences()
	for name, seq := range had {
		used, known := old.sequences[name]
		if !known || old.damaged != nil {
			used = max(used, seq+skipped)
		}
		if err == nil && used > seq {
			err = tx.do(sqlSetSequence, used, name)
		}
	}
	return err
}

const sqlAwaited = `SELECT DISTINCT phone FROM message WHERE claim_at IS NOT NULL OR undecided = 1`

// withdrawAll withdraws every text that may still be sent. The bell (the reminder job) then looks at the plots that
// these texts are about.
func (tx *Tx) withdrawAll(t *Reconciled, now int64) error {
	phones, err := column[Phone](tx, sqlAwaited, nil)
	var list []Message
	for _, p := range phones {
		var l *Ledger
		if err == nil {
			l, err = tx.Ledger(p, now)
		}
		if err != nil {
			return err
		}
		var more []Message
		if more, err = tx.withdrawOfPhone(p, now, l.Zone()); err == nil {
			err = tx.lookAgain(more, now, 0)
		}
		list = append(list, more...)
	}
	for _, m := range list {
		if m.Reminder != 0 {
			t.Reminders++
		} else {
			t.Others++
		}
	}
	return err
}

const (
	sqlEndSessions = `DELETE FROM session`
	sqlEndPrompts  = `DELETE FROM prompt`
	sqlEndCodes    = `DELETE FROM move_code`
)

func (tx *Tx) endDialogues() error {
	return errors.Join(tx.do(sqlEndSessions), tx.do(sqlEndPrompts), tx.do(sqlEndCodes))
}

// takeOperatorHold turns the operator hold on if it is on in the backup or in the replaced records.
func (tx *Tx) takeOperatorHold(t *Reconciled, old replaced) error {
	if len(old.held) > 0 {
		if err := tx.setMeta(metaSending, old.held); err != nil {
			return err
		}
	}
	var err error
	_, t.Held, err = tx.meta(metaSending)
	return err
}

// lineage reports whether the backup and the replaced records come from the same database, so that ids and keyed
// hashes mean the same in both.
func (tx *Tx) lineage(old replaced) bool {
	return len(old.key) > 0 && bytes.Equal(old.key, tx.s.hashKey)
}

// takeNumbers repeats the erasures and the moves of numbers that happened after the backup. It does nothing if the
// replaced records are damaged: a grower who is missing there was perhaps not erased.
func (tx *Tx) takeNumbers(t *Reconciled, old replaced, now int64) error {
	if !tx.lineage(old) || old.damaged != nil {
		return nil
	}
	taken := map[Phone]bool{}
	for _, g := range old.growers {
		taken[g.phone] = true
	}
	restored, err := tx.formerGrowers()
	if err != nil {
		return err
	}
	moved := map[int64]formerGrower{}
	for id, g := range restored {
		l, err := tx.Ledger(g.phone, now)
		if err != nil {
			return err
		}
		was, there := old.growers[id]
		_, out := old.optOuts[[32]byte(l.hash())]
		switch {
		case there && was.phone == g.phone:
		case there:
			moved[id] = was
			if !nobody(g.phone) {
				err = l.Unlink()
			}
		case nobody(g.phone):
			t.Erased++ // only staff can erase records without a number, so staff erased these records
			err = tx.EraseUnlinked(id)
		case out:
			t.Erased++
			err = l.Erase()
		case taken[g.phone]: // the grower was erased after the backup, and then consented again
			t.Erased++
			if err = l.Erase(); err == nil {
				err = l.do(sqlOptIn, l.hash())
			}
		default:
			t.Returned++
		}
		if err != nil {
			return err
		}
	}
	for id, was := range moved {
		if nobody(was.phone) {
			t.Unlinked++
			continue
		}
		_, err := tx.Move(id, was.phone, was.seenAt)
		switch {
		case errors.Is(err, ErrTaken): // another grower has the number, but is missing in the replaced records
			t.Unlinked++
		case err != nil:
			return err
		default:
			t.Moved++
		}
	}
	return nil
}

// nobody reports whether p is not a real number but stands for records without a number.
func nobody(p Phone) bool { return strings.HasPrefix(p.E164(), "+0") }

// takeStops copies STOPs from the replaced records. It copies STARTs only if these records are not damaged, because a
// STOP may be in an unreadable part.
func (tx *Tx) takeStops(t *Reconciled, old replaced) error {
	restored, err := tx.formerGrowers()
	if err != nil {
		return err
	}
	stopAt := map[Phone]int64{}
	for _, g := range old.growers {
		if g.stoppedAt > 0 && !nobody(g.phone) {
			stopAt[g.phone] = g.stoppedAt
		}
	}
	ours := tx.lineage(old)
	for id, g := range restored {
		if nobody(g.phone) {
			continue
		}
		l, err := tx.Ledger(g.phone, g.seenAt)
		if err != nil {
			return err
		}
		was, there := old.growers[id]
		at, stop := stopAt[g.phone]
		if out, ok := old.optOuts[[32]byte(l.hash())]; ours && ok && !stop {
			at, stop = out, true
		}
		delete(stopAt, g.phone)
		l.now = at
		switch {
		case stop && !l.Stopped():
			t.Stopped++
			err = l.Stop()
		case !stop && l.Stopped() && ours && there && was.phone == g.phone && old.damaged == nil:
			t.Started++
			l.now = was.seenAt
			err = l.Start()
		}
		if err != nil {
			return err
		}
	}
	for phone, at := range stopAt { // phones that have no restored records
		l, err := tx.Ledger(phone, at)
		if err == nil && !l.Stopped() {
			t.Strangers++
			err = l.Stop()
		}
		if err != nil {
			return err
		}
	}
	if !ours {
		return nil
	}
	for hash, at := range old.optOuts {
		n, err := tx.exec(sqlOptOut, hash[:], at)
		if err != nil {
			return err
		}
		t.Strangers += int(n)
	}
	return nil
}
