package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/plan"
	"rowbell/store"
)

// restoreCmd is rowbell restore: it replaces the records of a stopped service by a backup.
type restoreCmd struct {
	From         string `required:"" help:"The backup to restore." placeholder:"FILE"`
	Identity     string `help:"The file of the private key, for a backup that is encrypted." placeholder:"FILE"`
	DB           string `name:"db" help:"File that it replaces, or empty database (${default_db})." placeholder:"DB"`
	Config       string `help:"Configuration that names the database (default: ${default_config})." placeholder:"FILE"`
	DiscardNewer bool   `help:"Restore also where the records are newer than the backup: what came after it is lost."`
	Replaces     string `help:"On a server: take over STOPs and erasures since then from these." placeholder:"DB"`
	DiscardOld   bool   `help:"Do not keep the replaced file (one that cannot be read is always kept)."`
}

// Run restores the backup and prints what has changed.
func (c *restoreCmd) Run(w *world) error {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	now, db := w.now(), cmp.Or(c.DB, conf.DB)
	if c.Replaces != "" && !store.OnServer(db) {
		return &usageError{errors.New("--replaces is for a restore to a server; of a file it is known"),
			"rowbell restore --help"}
	}
	o := store.RestoreOptions{From: c.From, To: db, Identity: c.Identity, Now: now.Unix(),
		DiscardNewer: c.DiscardNewer, Aside: db + ".replaced-" + now.UTC().Format(fileStamp), DiscardOld: c.DiscardOld}
	var r store.Restored
	p := w.progress("checking and restoring the backup")
	if store.OnServer(db) {
		r, err = store.RestoreToServer(w.ctx, o, c.Replaces)
		db = store.DisplayName(db)
	} else {
		r, err = store.Restore(w.ctx, o)
	}
	p.stop()
	var newer *store.NewerError
	var refused *store.OpenError
	switch {
	case errors.As(err, &newer):
		return fmt.Errorf("nothing was restored: the newest entry of %s is of %s, that of the backup of %s. "+
			"What came between would be lost; --discard-newer says that it may be",
			store.DisplayName(cmp.Or(c.Replaces, db)), stamp(newer.Records), stamp(newer.Backup))
	case errors.Is(err, store.ErrInUse), errors.Is(err, store.ErrOtherRecords), errors.Is(err, store.ErrNoRecords),
		errors.Is(err, store.ErrMoved), errors.As(err, &refused) && refused.Op == "check":
		return fmt.Errorf("nothing was restored: %w", err)
	case err != nil:
		return fmt.Errorf("the restore did not finish: %w", err)
	}
	return printRestored(w.out, db, r)
}

// printRestored prints what was restored, what was taken over from the replaced records, and what is lost.
func printRestored(out io.Writer, db string, r store.Restored) error {
	say := func(format string, a ...any) { fmt.Fprintf(out, format+"\n", a...) }
	say("Restored and checked: %s from %s.", db, r.Backup.Path)
	say("%s. Whatever came after that is not in these records.", contents(r.Backup))
	t := r.Reconciled
	say("Withdrawn: %s that waited to be sent, and %s, answers among them: they may have gone out since. "+
		"The service texts again what is true today.",
		plan.Count(t.Reminders, "reminder", "reminders"), plan.Count(t.Others, "other text", "other texts"))
	if t.InDoubt > 0 {
		say("In doubt: %s of the backup; a network may have taken them and did not say. rowbell sending unknown shows "+
			"them, sends them again or leaves them.", plan.Count(int(t.InDoubt), "text", "texts"))
	}
	say("Dialogues in progress begin anew, and so does a move to a new number by code. Open questions in circles are " +
		"over, and turns with shared tools are planned and told anew.")
	switch {
	case r.Replaced.Size == 0:
		say("There was nothing to replace. Who texted STOP or was erased after the backup is not known here " +
			"and may be texted again.")
	case r.Damaged != nil:
		say("The replaced records are damaged (%v).", r.Damaged)
		say("Taken over from what could be read: %d growers stopped, and %d numbers without records that want no "+
			"texts. Other STOPs and erasures after the backup are lost, and these growers may be texted again.",
			t.Stopped, t.Strangers)
	default:
		say("Taken over from the replaced records: %s.", takenWords(t))
		if t.Returned > 0 {
			say("%d growers are back whom the replaced records did not have, without a request of theirs to be erased.",
				t.Returned)
		}
	}
	if t.Held {
		say("Nothing is sent: an operator holds all texts, and that goes on.")
	}
	if r.Aside != "" {
		say("The replaced records are kept as %s. There are phone numbers in them: "+
			"delete them when they are no longer needed.", r.Aside)
	}
	_, err := fmt.Fprintln(out, "Start the service: rowbell serve")
	return err
}

// takenWords counts the decisions of growers, such as STOP, that the restore took over from the replaced records.
func takenWords(t store.Reconciled) string {
	var words []string
	for _, of := range []struct {
		n    int
		what string
	}{
		{t.Stopped, "growers stopped"}, {t.Started, "growers started"},
		{t.Strangers, "numbers without records that want no texts"}, {t.Erased, "growers erased again"},
		{t.Moved, "growers moved to another number"}, {t.Unlinked, "growers parted from their number"},
		{t.Left, "growers left their circle again"},
	} {
		if of.n > 0 {
			words = append(words, fmt.Sprintf("%d %s", of.n, of.what))
		}
	}
	return cmp.Or(strings.Join(words, ", "), "no STOP, START, erasure, move or leaving of a circle since the backup")
}
