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

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/store"
)

// personCmd is rowbell person: what is kept of somebody, for who asks to see
// it or to have it erased. The service may be running on the records.
type personCmd struct {
	Phone  string `help:"The person's number." placeholder:"NUMBER"`
	Grower int64  `help:"Or the grower's id, for records without a number; see rowbell move --unlinked." placeholder:"ID"`
	Export string `help:"Write all that is kept of the person to a new file, as JSON; - is standard output." placeholder:"FILE"`
	Erase  bool   `help:"Erase all that is kept of the person, for good; no texts go to the number any more."`
	Yes    bool   `help:"With --erase: yes, it cannot be undone."`
	recordsFlags
	TestClock time.Time `hidden:"" help:"The instant, for tests."`

	phone store.Phone
	now   int64
}

// Run shows, writes or erases.
func (c *personCmd) Run(w *world) error {
	const try = "rowbell person --help"
	if err := c.usage(); err != nil {
		return &usageError{err, try}
	}
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	if c.Phone != "" {
		if c.phone, err = gateway.ParsePhone(c.Phone, conf.CountryCode); err != nil {
			return &usageError{errors.New("--phone: this is not a phone number with its country code"), try}
		}
	}
	c.now = present(w, c.TestClock).Unix()
	s, err := openRecords(w.ctx, cmp.Or(c.DB, conf.DB))
	if err != nil {
		return err
	}
	if c.Erase {
		err = c.erase(w, s)
	} else {
		err = c.show(w, s)
	}
	return errors.Join(err, s.Close())
}

// usage says what does not go together.
func (c *personCmd) usage() error {
	switch {
	case c.Phone != "" && c.Grower != 0:
		return errors.New("the person is named by --phone or by --grower, not by both")
	case c.Phone == "" && c.Grower == 0:
		return errors.New("say who with --phone or --grower")
	case c.Grower < 0:
		return fmt.Errorf("--grower %d is not an id", c.Grower)
	case c.Erase && c.Export != "":
		return errors.New("first --export, then --erase: not both at once")
	case c.Erase && !c.Yes:
		return errors.New("--erase cannot be undone: say --yes too")
	case c.Yes && !c.Erase:
		return errors.New("--yes goes with --erase")
	}
	return nil
}

// who is the person as they may be named on a screen.
func (c *personCmd) who() string {
	if c.phone != "" {
		return c.phone.String()
	}
	return fmt.Sprintf("grower %d", c.Grower)
}

// read reads all that is kept.
func (c *personCmd) read(tx *store.Tx) (store.PersonalData, error) {
	if c.phone != "" {
		return tx.PersonalData(c.phone, c.now)
	}
	p, err := tx.PersonalDataUnlinked(c.Grower, c.now)
	switch {
	case errors.Is(err, store.ErrUnknown):
		return p, fmt.Errorf("there is no grower %d", c.Grower)
	case errors.Is(err, store.ErrLinked):
		return p, fmt.Errorf("grower %d has a number: use --phone", c.Grower)
	}
	return p, err
}

func (c *personCmd) show(w *world, s *store.Store) error {
	var p store.PersonalData
	err := s.View(w.ctx, func(tx *store.Tx) (err error) {
		p, err = c.read(tx)
		return err
	})
	switch {
	case err != nil:
		return err
	case c.Export == "-":
		return writePerson(w.out, p)
	case c.Export != "":
		return c.export(w, p)
	case p.Empty():
		_, err = fmt.Fprintf(w.out, "Nothing is kept of %s.\n", c.who())
		return err
	}
	return c.summary(w.out, p)
}

// export writes a new file that nobody else may read.
func (c *personCmd) export(w *world, p store.PersonalData) error {
	f, err := os.OpenFile(c.Export, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		if errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("nothing was written: there is a file %s already; give another name", c.Export)
		}
		return fmt.Errorf("nothing was written: %w", err)
	}
	if err := errors.Join(writePerson(f, p), f.Sync(), f.Close()); err != nil {
		return errors.Join(fmt.Errorf("not all was written: %w", err), os.Remove(c.Export))
	}
	_, err = fmt.Fprintf(w.out, "Written: all that is kept of %s. The file holds it in clear: give it to nobody else.\n", c.who())
	return err
}

func writePerson(w io.Writer, p store.PersonalData) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(p)
}

func (c *personCmd) erase(w *world, s *store.Store) error {
	var none bool
	err := s.InTx(w.ctx, func(tx *store.Tx) error {
		if c.phone == "" {
			return tx.EraseUnlinked(c.Grower)
		}
		p, err := tx.PersonalData(c.phone, c.now)
		if err != nil {
			return err
		}
		p.NoTextsSince = 0 // that stays
		if none = p.Empty(); none {
			return nil
		}
		l, err := tx.Ledger(c.phone, c.now)
		if err != nil {
			return err
		}
		return l.Erase()
	})
	switch {
	case errors.Is(err, store.ErrUnknown):
		return fmt.Errorf("nothing was erased: grower %d is not one without a number; see rowbell move --unlinked", c.Grower)
	case err != nil:
		return fmt.Errorf("nothing was erased: %w", err)
	case none:
		return fmt.Errorf("nothing was erased: there is nothing of %s", c.who())
	}
	fmt.Fprintf(w.out, "Erased: all that was kept of %s.\n", c.who())
	if c.phone != "" {
		fmt.Fprintln(w.out, "No texts go there until somebody joins anew with that number; for this a keyed hash of it stays.")
	}
	_, err = fmt.Fprintln(w.out, "Copies of the records made before still hold it, until they are removed.")
	return errors.Join(err, s.Checkpoint(w.ctx))
}

// summary tells in short what is kept, of what kind and how much.
func (c *personCmd) summary(out io.Writer, p store.PersonalData) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	line := func(name, form string, a ...any) { fmt.Fprintf(t, name+"\t"+form+"\n", a...) }
	day := func(i store.Instant) string { return i.String()[:len(time.DateOnly)] }
	line("Kept of", "%s", c.who())
	if r := p.Records; r == nil {
		line("Records", "none")
	} else {
		line("Records", "grower %d, place %s, language %s, since %s", r.ID, r.Place, r.Language, day(r.CreatedAt))
		line("Heard of", "%s", day(r.HeardOfAt))
		if r.NoNumberSince != 0 {
			line("Number", "none since %s: it was another person's", day(r.NoNumberSince))
		}
		for _, d := range r.Consent {
			by := d.Channel
			if by == "" {
				by = "no channel"
			}
			line("Consent", "%s %s, by %s, in %s, text %s", d.What, d.At, by, d.Language, d.TextVersion)
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
		line("Plots", "open %d, closed %d; passes %d, sightings %d, windows told %d, trials %d", len(r.Plots)-closed, closed, passes, sightings, told, len(r.Trials))
	}
	if p.NoTextsSince != 0 {
		line("Texts", "not wanted since %s", day(p.NoTextsSince))
	}
	states := map[store.State]int{}
	for _, m := range p.Texts {
		states[m.State]++
	}
	var counts []string
	for _, state := range []store.State{store.Queued, store.Claimed, store.Accepted, store.Delivered, store.Refused, store.Expired, store.Withdrawn, store.Unknown} {
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
	if p.RepliesKept > 0 {
		line("Replies", "%d, for calls that come twice", p.RepliesKept)
	}
	if p.WrongCodes > 0 {
		line("Wrong codes", "%d, until %s", p.WrongCodes, p.WrongCodesUntil)
	}
	return t.Flush()
}
