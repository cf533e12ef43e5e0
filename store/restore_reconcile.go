package store

import (
	"bytes"
	"errors"
	"maps"
	"strings"
)

// Reconciled is what a restore changed in the restored records.
//
// Waiting texts may have been sent after the backup. So they are withdrawn and count as not sent, and the bell (the
// reminder job) writes reminders that are correct today. Dialogues, prompts and move codes are deleted, because growers
// may have continued or used them after the backup; open questions in circles are over, and letters to many do
// not go on. Later decisions are copied from
// the replaced records: STOP, START, erasures, moved numbers, who left a circle and the operator hold. A new table with
// pending work or with decisions of growers needs its own step in reconcile.
type Reconciled struct {
	Reminders, Others int   // number of reminders and of other texts that were withdrawn
	Stopped, Started  int   // growers whose STOP or START was copied from the replaced records
	Strangers         int   // STOPs that were copied for phone numbers without records
	Erased            int   // growers who were erased after the backup
	Moved, Unlinked   int   // growers whose number changed after the backup, or was unlinked
	Left              int   // growers who left a circle after the backup
	Held              bool  // true if the operator hold is on
	InDoubt           int64 // undecided texts of the backup
	Returned          int   // growers of the backup who were missing in the replaced records for an unknown reason
}

// reconcile changes restored records according to what happened after the backup.
func (tx *Tx) reconcile(old replaced, now int64) (t Reconciled, err error) {
	for _, do := range []func() error{
		func() error { return tx.skipIDs(old) },
		func() error { return tx.withdrawAll(&t, now) },
		func() error { return tx.stopLetters(now) },
		func() error { return tx.endDialogues() },
		func() error { return tx.takeOperatorHold(&t, old) },
		func() error { return tx.takeSpent(old) },
		func() error { return tx.takeNumbers(&t, old, now) },
		func() error { return tx.takeStops(&t, old) },
		func() error { return tx.takeCircles(&t, old, now) },
		func() error { return tx.countDoubt(&t, now) },
	} {
		if err := do(); err != nil {
			return t, fail("take over", err)
		}
	}
	return t, nil
}

// skipped is how many ids are skipped if nobody knows which ids were used after the backup.
const skipped = 1_000_000

// skipIDs makes new ids continue after the ids that were used after the backup, because a network may remember
// idempotency keys with these ids.
func (tx *Tx) skipIDs(old replaced) error {
	ids, err := tx.lastIDs()
	if err != nil {
		return err
	}
	for name, last := range ids {
		used, known := old.lastIDs[name]
		if !known || old.damaged != nil {
			used = max(used, last+skipped)
		}
		ids[name] = used
	}
	return tx.setLastIDs(ids)
}

const sqlAwaited = `SELECT DISTINCT a.phone
	FROM (SELECT phone FROM message WHERE claim_at IS NOT NULL LIMIT CAST($1 AS BIGINT)) a`

const sqlUndecide = `UPDATE message SET undecided = 1 WHERE id = $1`

// withdrawAll withdraws every text that may still be sent. The bell (the reminder job) then looks at the plots that
// these texts are about. A text that a network may have taken before the backup is not rung again, so it is undecided:
// only the operator can send it again.
func (tx *Tx) withdrawAll(t *Reconciled, now int64) error {
	for {
		phones, err := column[Phone](tx, sqlAwaited, args(formerPage))
		if err != nil || len(phones) == 0 {
			return err
		}
		for _, p := range phones { // afterwards, no text to this phone may still be sent
			l, err := tx.Ledger(p, now)
			if err != nil {
				return err
			}
			list, err := tx.withdraw(sqlPendingOfPhone, args(p.E164()), now, l.Zone())
			if err == nil {
				err = tx.lookAgain(list, now, 0)
			}
			if err != nil {
				return err
			}
			for _, m := range list {
				if m.MaybeSent {
					if err := tx.do(sqlUndecide, m.ID); err != nil {
						return err
					}
				}
				if m.Reminder != 0 {
					t.Reminders++
				} else {
					t.Others++
				}
			}
		}
	}
}

// countDoubt counts the undecided texts, after STOPs and erasures were taken over.
func (tx *Tx) countDoubt(t *Reconciled, now int64) (err error) {
	t.InDoubt, err = tx.UndecidedCount(now)
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
	var changed []formerGrower // as they are in the replaced records
	err := tx.eachPair(old, func(g, was formerGrower, there bool) error {
		switch {
		case there && was.phone == g.phone:
			return nil
		case !there:
			return tx.takeAbsence(t, old, g, now)
		}
		changed = append(changed, was)
		if withoutNumber(g.phone) {
			return nil
		}
		l, err := tx.Ledger(g.phone, now)
		if err == nil {
			err = l.Unlink()
		}
		return err
	})
	if err != nil {
		return err
	}
	for _, was := range changed {
		if withoutNumber(was.phone) {
			t.Unlinked++
			continue
		}
		_, err := tx.Move(was.id, was.phone, was.seenAt)
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

// takeAbsence erases a grower who is missing in the replaced records, if the grower was erased after the backup.
func (tx *Tx) takeAbsence(t *Reconciled, old replaced, g formerGrower, now int64) error {
	if withoutNumber(g.phone) {
		t.Erased++ // only staff can erase records without a number, so staff erased these records
		return tx.EraseUnlinked(g.id, now)
	}
	l, err := tx.Ledger(g.phone, now)
	if err != nil {
		return err
	}
	_, out := old.optOuts[[32]byte(l.hash())]
	anew := false // the grower was erased after the backup, and then consented again
	if !out {
		anew, err = old.has(tx.ctx, g.phone)
	}
	if err != nil {
		return err
	}
	if !out && !anew {
		t.Returned++
		return nil
	}
	t.Erased++
	if err = l.Erase(); err == nil && anew {
		err = l.do(sqlOptIn, l.hash())
	}
	return err
}

// withoutNumber reports whether p is not a real number but stands for records without a number.
func withoutNumber(p Phone) bool { return strings.HasPrefix(p.E164(), "+0") }

// takeStops copies STOPs from the replaced records. It copies STARTs only if these records are not damaged, because a
// STOP may be in an unreadable part.
func (tx *Tx) takeStops(t *Reconciled, old replaced) error {
	ours := tx.lineage(old)
	stopAt := maps.Clone(old.stopAt)
	err := tx.eachPair(old, func(g, was formerGrower, there bool) error {
		if withoutNumber(g.phone) {
			return nil
		}
		at, stop := stopAt[g.phone]
		delete(stopAt, g.phone)
		if !stop && ours && len(old.optOuts) > 0 {
			at, stop = old.optOuts[[32]byte(tx.hash(g.phone))]
		}
		switch stopped := g.stoppedAt > 0; {
		case stop && !stopped:
			t.Stopped++
			l, err := tx.Ledger(g.phone, at)
			if err == nil {
				err = l.Stop()
			}
			return err
		case !stop && stopped && there && was.phone == g.phone:
			t.Started++
			l, err := tx.Ledger(g.phone, was.seenAt)
			if err == nil {
				err = l.Start()
			}
			return err
		}
		return nil
	})
	if err != nil {
		return err
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
