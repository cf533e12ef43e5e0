package main

import (
	"fmt"
	"regexp"
	"strings"
	"text/tabwriter"
	"time"
	"unicode"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/limit"
	"rowbell/store"
)

// sendingCmd is rowbell sending: what goes out, what waits, what it costs, and
// the switch that holds everything back.
type sendingCmd struct {
	Show sendingShowCmd `cmd:"" default:"withargs" help:"Show whether texts go out, what waits, and what was spent."`
	Hold sendingHoldCmd `cmd:"" help:"Hold all texts at once. Calls are answered as ever; what waits expires in its time."`
	Go   sendingGoCmd   `cmd:"" help:"Let texts out again."`
}

// sendingHoldCmd is rowbell sending hold.
type sendingHoldCmd struct {
	Why string `required:"" help:"The reason, for whoever reads the log or asks later: no phone numbers." placeholder:"WORDS"`
	recordsFlags
	TestClock time.Time `hidden:"" help:"The instant of the hold, for tests."`
}

// maxWhy is how long a reason may be, in characters.
const maxWhy = 200

var longNumber = regexp.MustCompile(`[0-9]{7}`)

// Run holds all texts.
func (c *sendingHoldCmd) Run(w *world) error {
	why := strings.TrimSpace(c.Why)
	var wrong string
	switch {
	case why == "":
		wrong = "say why texts are held"
	case len([]rune(why)) > maxWhy:
		wrong = fmt.Sprintf("this is longer than %d characters", maxWhy)
	case strings.ContainsFunc(why, func(r rune) bool { return !unicode.IsPrint(r) }):
		wrong = "this is not one line of words"
	case longNumber.MatchString(why):
		wrong = "a phone number does not belong into the log"
	}
	if wrong != "" {
		return &usageError{fmt.Errorf("--why: %s", wrong), "rowbell sending hold --help"}
	}
	now := present(w, c.TestClock)
	if err := c.change(w.ctx, func(tx *store.Tx) error { return tx.HoldSending(why, now.Unix()) }); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w.out, "Held: no text goes out until rowbell sending go.")
	return err
}

// sendingGoCmd is rowbell sending go.
type sendingGoCmd struct{ recordsFlags }

// Run lets texts out again.
func (c *sendingGoCmd) Run(w *world) error {
	was := false
	err := c.change(w.ctx, func(tx *store.Tx) (err error) {
		was, err = tx.ReleaseSending()
		return err
	})
	switch {
	case err != nil:
		return err
	case !was:
		_, err = fmt.Fprintln(w.out, "Texts were not held.")
	default:
		_, err = fmt.Fprintln(w.out, "Texts go out again: the most urgent first, at the pace that is set.")
	}
	return err
}

// sendingShowCmd is rowbell sending.
type sendingShowCmd struct {
	recordsFlags
	TestClock time.Time `hidden:"" help:"The instant to look from, for tests."`
}

// sendingSeen is what the records say of sending.
type sendingSeen struct {
	hold    store.SendingHold
	held    bool
	waiting []store.Waiting
	ended   []store.Ended // since midnight UTC
	spends  []store.Spend
}

// Run prints it.
func (c *sendingShowCmd) Run(w *world) error {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	now := present(w, c.TestClock)
	var seen sendingSeen
	err = c.view(w.ctx, func(tx *store.Tx) (err error) {
		if seen.hold, seen.held, err = tx.SendingHeld(); err != nil {
			return err
		}
		if seen.waiting, err = tx.Waiting(now.Unix()); err != nil {
			return err
		}
		if seen.ended, err = tx.EndedSince(now.UTC().Truncate(24 * time.Hour).Unix()); err != nil {
			return err
		}
		seen.spends, err = tx.Spends(now.Unix())
		return err
	})
	if err != nil {
		return err
	}
	return seen.print(w, conf, now)
}

var waitingWords = map[string]string{
	"due": "due now", "later": "due later", "again": "to be tried again", "doubt": "to be tried again, may have arrived",
	"sending": "on the way", "held": "held by a limit",
}

var endedWords = map[store.State]string{
	store.Accepted: "taken, and not heard of again", store.Delivered: "delivered", store.Refused: "refused by the network",
	store.Expired: "expired: no longer useful", store.Withdrawn: "withdrawn: something newer, or a STOP", store.Unknown: "unknown: a network may have them",
}

func (s sendingSeen) print(w *world, conf config.Config, now time.Time) error {
	if s.held {
		fmt.Fprintf(w.out, "Sending: held since %s: %s\n", time.Unix(s.hold.Since, 0).UTC().Format("2 January 2006 15:04 UTC"), s.hold.Why)
	} else {
		fmt.Fprintln(w.out, "Sending: on")
	}
	fmt.Fprintln(w.out)
	if len(s.waiting) == 0 {
		fmt.Fprintln(w.out, "Nothing waits to be sent.")
	} else {
		t := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(t, "waits\ttexts\tthe oldest for\tthe first ends in")
		for _, p := range s.waiting {
			fmt.Fprintf(t, "%s\t%d\t%s\t%s\n", waitingWords[p.What], p.Texts, span(now.Unix()-p.Oldest), span(p.EndsFirst-now.Unix()))
		}
		if err := t.Flush(); err != nil {
			return err
		}
	}
	if len(s.ended) > 0 {
		fmt.Fprint(w.out, "\ntoday (UTC)\n")
		t := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
		for _, e := range s.ended {
			fmt.Fprintf(t, "%d\t%s\n", e.Texts, endedWords[e.State])
		}
		if err := t.Flush(); err != nil {
			return err
		}
	}
	fmt.Fprintln(w.out)
	money := strings.TrimSpace("money " + conf.Limits.Currency)
	t := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "sent (UTC)\ttoday: texts\tsegments\t%s\tthis month: texts\tsegments\t%s\n", money, money)
	for _, p := range s.spends {
		name, l := "all", limit.Set{}
		if p.Scope == "" {
			l = conf.Limits.Set
		} else {
			name = strings.Replace(p.Scope, "/", " ", 1)
			l = conf.Gateways[strings.TrimPrefix(p.Scope, "gateway/")].Limits
		}
		fmt.Fprintf(t, "%s\t%d%s\t%d\t%s%s\t%d\t%d\t%s%s\n", name, p.Texts, of(float64(l.TextsADay)), p.Segments, inMoney(p.Micros), of(l.MoneyADay),
			p.MonthTexts, p.MonthSegments, inMoney(p.MonthMicros), of(l.MoneyAMonth))
	}
	if l := conf.Limits.Number; l != (limit.Set{}) && len(s.spends) > 0 {
		fmt.Fprintf(t, "most to one number\t%d%s\t\t\t\t\t\n", s.spends[0].MostOfOne, of(float64(l.TextsADay)))
	}
	return t.Flush()
}

// of is a limit beside what it limits.
func of(limit float64) string {
	if limit == 0 {
		return ""
	}
	return fmt.Sprintf(" of %g", limit)
}

// inMoney is an amount with two places.
func inMoney(micros int64) string { return fmt.Sprintf("%.2f", float64(micros)/1e6) }

// span is a time in the two largest units that it needs.
func span(seconds int64) string {
	d := time.Duration(max(seconds, 0)) * time.Second
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%ds", int(d.Seconds()))
	case d < time.Hour:
		return fmt.Sprintf("%dm", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%dh %dm", int(d.Hours()), int(d.Minutes())%60)
	}
	return fmt.Sprintf("%dd %dh", int(d.Hours())/24, int(d.Hours())%24)
}
