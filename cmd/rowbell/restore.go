package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// restoreCmd is rowbell restore. The service must be stopped.
type restoreCmd struct {
	From         string `required:"" help:"The backup that is put back." placeholder:"FILE"`
	DB           string `name:"db" help:"Database file that it replaces (default ${default_db}); no service may be running on it." placeholder:"FILE"`
	Config       string `help:"Configuration that names the database (default ${default_config}, if there is one)." placeholder:"FILE"`
	DiscardNewer bool   `help:"Also where the records are newer than the backup: what came after it is lost."`
	DiscardOld   bool   `help:"Do not keep the replaced file aside (one that cannot be read is always kept)."`

	TestClock time.Time `hidden:"" help:"The instant of the restore, for tests."`
}

// Run puts the backup back, and says what that means.
func (c *restoreCmd) Run(w *world) error {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	now := present(w, c.TestClock)
	db := cmp.Or(c.DB, conf.DB)
	r, err := store.Restore(w.ctx, store.RestoreOptions{From: c.From, To: db, Now: now.Unix(), DiscardNewer: c.DiscardNewer,
		Aside: db + ".replaced-" + now.UTC().Format("2006-01-02-150405"), DiscardOld: c.DiscardOld})
	var newer *store.NewerError
	var refused *store.OpenError
	switch {
	case errors.As(err, &newer):
		return fmt.Errorf("nothing was restored: the newest entry of %s is of %s, that of the backup of %s. What came between would be lost; --discard-newer says that it may be",
			db, stamp(newer.Records), stamp(newer.Backup))
	case errors.Is(err, store.ErrInUse), errors.As(err, &refused) && refused.Op == "check":
		return fmt.Errorf("nothing was restored: %w", err)
	case err != nil:
		return fmt.Errorf("the restore did not finish: %w", err)
	}
	return tellRestored(w.out, db, r)
}

// tellRestored says what was put back and what is not as it was.
func tellRestored(out io.Writer, db string, r store.Restored) error {
	say := func(format string, a ...any) { fmt.Fprintf(out, format+"\n", a...) }
	say("Restored: %s from %s, checked whole.", db, r.Backup.Path)
	say("%s. Whatever came after that is not in these records.", holds(r.Backup))
	t := r.Reconciled
	say("Withdrawn: %s that waited to be sent, and %s, answers among them: they may have gone out since. The bell rings anew what is true today.", counted(t.Reminders, "reminder"), counted(t.Others, "other text"))
	say("Dialogues in progress begin anew, and so does a move to a new number by code.")
	switch {
	case r.Replaced.Size == 0:
		say("There was nothing to replace. Who texted STOP or was erased after the backup is not known here and may be texted again.")
	case r.Damaged != nil:
		say("The replaced records are damaged (%v).", r.Damaged)
		say("From them was taken what could be read: %d growers stopped, and %d numbers without records that want no texts. Other STOPs and erasures after the backup are lost, and these growers may be texted again.", t.Stopped, t.Strangers)
	default:
		var taken []string
		for _, of := range []struct {
			n    int
			what string
		}{
			{t.Stopped, "growers stopped"}, {t.Started, "growers started"}, {t.Strangers, "numbers without records that want no texts"},
			{t.Erased, "growers erased again"}, {t.Moved, "growers moved to another number"}, {t.Unlinked, "growers parted from their number"},
		} {
			if of.n > 0 {
				taken = append(taken, fmt.Sprintf("%d %s", of.n, of.what))
			}
		}
		say("Taken over from the replaced records: %s.", cmp.Or(strings.Join(taken, ", "), "no STOP, START, erasure or move since the backup"))
		if t.Returned > 0 {
			say("Back are %d growers that the replaced records did not have, without a request of theirs to be erased.", t.Returned)
		}
	}
	if t.Held {
		say("Nothing is sent: an operator holds all texts, and that goes on.")
	}
	if r.Aside != "" {
		say("The replaced records are kept as %s. There are phone numbers in them: delete them when they are no longer needed.", r.Aside)
	}
	_, err := fmt.Fprintln(out, "Start the service: rowbell serve")
	return err
}
