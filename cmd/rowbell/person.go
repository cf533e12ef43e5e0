package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"rowbell/store"
)

// personCmd is rowbell person, for a person who asks for their stored data or its erasure.
type personCmd struct {
	Phone string `help:"The person's number." placeholder:"NUMBER"`
	growerFlag
	Export string `help:"Write everything stored to a new JSON file; - is standard output." placeholder:"FILE"`
	Erase  bool   `help:"Erase everything stored; the number gets no more texts."`
	Yes    bool   `help:"With --erase: yes, it cannot be undone."`
	recordsFlags
}

// Run shows, exports or erases the data that is stored about a person.
func (c *personCmd) Run(w *world) (err error) {
	if err := c.check(); err != nil {
		return &usageError{err, "rowbell person --help"}
	}
	s, phone, err := c.openFor(w.ctx, "person", c.Phone)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	who := person{phone, c.Grower}
	if c.Erase {
		return erasePerson(w, s, who)
	}
	return c.show(w, s, who)
}

// check returns an error for missing or contradicting flags.
func (c *personCmd) check() error {
	if err := c.growerFlag.check("--phone", c.Phone); err != nil {
		return err
	}
	switch {
	case c.Erase && c.Export != "":
		return errors.New("first --export, then --erase: not both at once")
	case c.Erase && !c.Yes:
		return errors.New("--erase cannot be undone: say --yes too")
	case c.Yes && !c.Erase:
		return errors.New("--yes goes with --erase")
	}
	return nil
}

func (c *personCmd) show(w *world, s *store.Store, who person) error {
	var p store.PersonalData
	err := s.View(w.ctx, func(tx *store.Tx) (err error) {
		if who.phone != "" {
			p, err = tx.PersonalData(who.phone, w.now().Unix())
		} else {
			p, err = tx.PersonalDataUnlinked(who.grower, w.now().Unix())
		}
		return err
	})
	switch {
	case errors.Is(err, store.ErrUnknown):
		return fmt.Errorf("there is no %s", who)
	case errors.Is(err, store.ErrLinked):
		return fmt.Errorf("%s has a number: use --phone", who)
	case err != nil:
		return err
	case c.Export == "-":
		return writePerson(w.out, p)
	case c.Export != "":
		return exportPerson(w.out, c.Export, who, p)
	case p.Empty():
		_, err = fmt.Fprintf(w.out, "Nothing is kept of %s.\n", who)
		return err
	}
	return printPerson(w.out, who, p)
}

// exportPerson writes the data that is stored about a person to a new file that only its owner may read.
func exportPerson(out io.Writer, file string, who person, p store.PersonalData) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		if errors.Is(err, fs.ErrExist) {
			err = fmt.Errorf("there is a file %s already; give another name", file)
		}
		return fmt.Errorf("nothing was written: %w", err)
	}
	if err := errors.Join(writePerson(f, p), f.Sync(), f.Close()); err != nil {
		return errors.Join(fmt.Errorf("not all was written: %w", err), os.Remove(file))
	}
	_, err = fmt.Fprintf(out, "Written: all that is kept of %s. "+
		"The file is not encrypted: give it to nobody else.\n", who)
	return err
}

func writePerson(w io.Writer, p store.PersonalData) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(p)
}

func erasePerson(w *world, s *store.Store, who person) error {
	err := s.InTx(w.ctx, func(tx *store.Tx) error {
		if who.phone == "" {
			return who.eraseUnlinked(tx, w.now().Unix())
		}
		p, err := tx.PersonalData(who.phone, w.now().Unix())
		if err != nil {
			return err
		}
		// The note that the number wants no texts is never erased, so it does not count here.
		if p.NoTextsSince = 0; p.Empty() {
			return fmt.Errorf("there is nothing of %s", who)
		}
		l, err := tx.Ledger(who.phone, w.now().Unix())
		if err != nil {
			return err
		}
		return l.Erase()
	})
	if err != nil {
		return fmt.Errorf("nothing was erased: %w", err)
	}
	fmt.Fprintf(w.out, "Erased: all that was kept of %s.\n", who)
	if who.phone != "" {
		fmt.Fprintln(w.out, "No texts go there until somebody joins anew with that number; "+
			"for this a keyed hash of it stays.")
	}
	_, err = fmt.Fprintln(w.out, "Copies of the records made before still hold it, until they are removed.")
	return errors.Join(err, s.Checkpoint(w.ctx))
}

// printPerson prints which kinds of data are stored about a person.
func printPerson(out io.Writer, who person, p store.PersonalData) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	line := func(name, form string, a ...any) { fmt.Fprintf(t, name+"\t"+form+"\n", a...) }
	line("Kept of", "%s", who)
	if p.Records == nil {
		line("Records", "none")
	} else {
		printRecords(line, *p.Records)
	}
	if p.NoTextsSince != 0 {
		line("Texts", "not wanted since %s", dayOf(p.NoTextsSince))
	}
	states := map[store.State]int{}
	for _, m := range p.Texts {
		states[m.State]++
	}
	var counts []string
	for _, state := range []store.State{store.Queued, store.Claimed, store.Accepted, store.Delivered, store.Refused,
		store.Expired, store.Withdrawn, store.Unknown} {
		if states[state] > 0 {
			counts = append(counts, fmt.Sprintf("%d %s", states[state], state))
		}
	}
	line("Texts kept", "%s", cmp.Or(strings.Join(counts, ", "), "none"))
	for _, d := range p.Dialogues {
		line("Dialogue", "by %s, kept until %s", d.Channel, d.Until)
	}
	if p.Question != nil {
		line("Question", "asked %s, open until %s", p.Question.AskedAt, p.Question.Until)
	}
	if e := p.Exchange; e != nil {
		line("Last text", "%s; not understood in a row: %d", e.LastTextAt, e.NotUnderstood)
		if e.LeftAloneUntil > p.WrittenAt {
			line("Left alone", "until %s, like a machine: STOP and what the menu understands still count",
				e.LeftAloneUntil)
		}
	}
	if p.RepliesKept > 0 {
		line("Replies", "%d, for calls that come twice", p.RepliesKept)
	}
	if p.WrongCodes > 0 {
		line("Wrong codes", "%d, until %s", p.WrongCodes, p.WrongCodesUntil)
	}
	return t.Flush()
}

// printRecords prints a line for each kind of data in the records.
func printRecords(line func(name, form string, a ...any), r store.PersonRecords) {
	line("Records", "grower %d, place %s, language %s, since %s", r.ID, r.Place, r.Language, dayOf(r.CreatedAt))
	if r.Name != "" {
		line("Name", "%s", r.Name)
	}
	if r.Note != "" {
		line("Note", "%s", r.Note)
	}
	line("Heard of", "%s", dayOf(r.HeardOfAt))
	if r.NoNumberSince != 0 {
		line("Number", "none since %s: it was another person's", dayOf(r.NoNumberSince))
	}
	for _, d := range r.Consent {
		line("Consent", "%s %s, by %s, in %s, text %s", d.What, d.At, cmp.Or(d.Channel, "no channel"), d.Language,
			d.TextVersion)
	}
	household := "nothing told"
	if r.Household != nil {
		household = "told"
	}
	line("Household", "%s", household)
	closed, passes, sightings, told := 0, 0, 0, 0
	for _, plot := range r.Plots {
		if plot.ClosedDay != "" {
			closed++
		}
		passes, sightings, told = passes+len(plot.Passes), sightings+len(plot.Sightings), told+len(plot.Told)
	}
	line("Plots", "open %d, closed %d; passes %d, sightings %d, windows told %d, trials %d", len(r.Plots)-closed,
		closed, passes, sightings, told, len(r.Trials))
	for _, c := range r.Circles {
		line("Circle", "%d, %s since %s, text %s; own tools %d, turns %d, questions %d, entries %d", c.Number, c.As,
			dayOf(c.AgreedAt), c.TextVersion, len(c.Tools), len(c.Turns), len(c.Questions), len(c.Entries))
	}
	for _, plot := range r.Plots {
		for _, c := range plot.Corrections {
			line("Corrected", "plot %d, %s, by %s: %s %s, now %s", plot.No, c.At, cmp.Or(c.Channel, "no channel"),
				c.What, recordOrNone(c.Was), recordOrNone(c.Now))
		}
	}
}

// recordOrNone writes a record of a correction; "none" stands for a record that did not exist before or does not exist
// after the correction.
func recordOrNone(b json.RawMessage) string {
	if string(b) == "null" {
		return "none"
	}
	return string(b)
}

// dayOf returns the day (UTC) as YYYY-MM-DD.
func dayOf(i store.Instant) string { return i.String()[:len(time.DateOnly)] }
