package main

import (
	"errors"
	"fmt"
	"strings"

	"rowbell/cmd/rowbell/plan"
	"rowbell/store"
)

// copyCmd is rowbell copy: it moves the records to another database. The service must be stopped.
type copyCmd struct {
	From     string `required:"" help:"Database file or address of the records." placeholder:"DB"`
	To       string `required:"" help:"New file, or address of an empty database." placeholder:"DB"`
	Rehearse bool   `help:"Try it: the records stay in use, and the service refuses the copy."`
	Anew     bool   `help:"Begin again where an earlier copy did not finish or was a rehearsal."`
}

// Run copies the records, compares both sides, and prints what was copied.
func (c *copyCmd) Run(w *world) error {
	if err := recordsExist(w.ctx, c.From); err != nil {
		return err
	}
	p := w.progress("copying the records and comparing both sides")
	done, err := store.Copy(w.ctx, store.CopyOptions{From: c.From, To: c.To, Now: w.now().Unix(), Rehearse: c.Rehearse,
		Anew: c.Anew, Progress: p.step})
	p.stop()
	switch {
	case errors.Is(err, store.ErrNoRecords):
		return noRecords(store.DisplayName(c.From))
	case err != nil:
		return fmt.Errorf("the copy did not finish: %w", err)
	}
	rows := int64(0)
	for _, t := range done.Tables {
		rows += t.Rows
	}
	say := func(format string, a ...any) { fmt.Fprintf(w.out, format+"\n", a...) }
	if done.Resumed {
		say("It went on where an earlier copy had ended.")
	}
	say("Copied: %s to %s, %s in %d tables. Counts and checksums of all tables are the same on both sides.", done.From,
		done.To, plan.Count(rows, "row", "rows"), len(done.Tables))
	if c.Rehearse {
		say("It was a rehearsal: the records stay at %s, and the service refuses the copy.", done.From)
		return nil
	}
	say("From now on %s is refused, with the place where the records are. It still holds phone numbers: delete it "+
		"when there is a backup of the new records.", done.From)
	_, err = fmt.Fprintf(w.out, "Start the service: rowbell serve --db '%s'\n",
		strings.ReplaceAll(done.To, "'", `'\''`))
	return err
}
