package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/plan"
	"rowbell/gateway/limit"
	"rowbell/store"
)

// sendingCmd is rowbell sending: it shows the sent and the waiting texts and their cost. Subcommands set and remove the
// operator hold, which stops all texts.
type sendingCmd struct {
	Show sendingShowCmd `cmd:"" default:"withargs" help:"Show whether texts are sent, what waits, and what was spent."`
	Hold sendingHoldCmd `cmd:"" help:"Hold all texts. Calls are answered; what waits may expire."`
	Go   sendingGoCmd   `cmd:"" help:"Release the texts."`

	Unknown sendingUnknownCmd `cmd:"" help:"List texts that a network may have; send them again, or leave them."`
	Answer  sendingAnswerCmd  `cmd:"" help:"Answer the texts of a number again that is left alone like a machine."`
}

// sendingHoldCmd is rowbell sending hold, which sets the operator hold.
type sendingHoldCmd struct {
	Why string `required:"" help:"The reason, for the log: no phone numbers." placeholder:"WORDS"`
	recordsFlags
}

// Run sets the operator hold. The service looks for the hold before it takes texts from the outbox.
func (c *sendingHoldCmd) Run(w *world) error {
	why := strings.TrimSpace(c.Why)
	wrong := store.HoldReasonMistake(why)
	if wrong != "" {
		return &usageError{fmt.Errorf("--why: %s", wrong), "rowbell sending hold --help"}
	}
	now := w.now()
	if err := c.change(w.ctx, func(tx *store.Tx) error { return tx.HoldSending(why, now.Unix()) }); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w.out, "Held: no text goes out until rowbell sending go.")
	return err
}

// sendingGoCmd is rowbell sending go, which removes the operator hold.
type sendingGoCmd struct{ recordsFlags }

// Run removes the operator hold.
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

// sendingAnswerCmd is rowbell sending answer: the texts of a number that is left alone are answered again.
type sendingAnswerCmd struct {
	Phone string `required:"" help:"The number." placeholder:"NUMBER"`
	recordsFlags
}

// Run ends the pause of the number and deletes its exchange.
func (c *sendingAnswerCmd) Run(w *world) error {
	s, phone, err := c.openFor(w.ctx, "sending answer", c.Phone)
	if err != nil {
		return err
	}
	now, alone := w.now().Unix(), false
	err = s.InTx(w.ctx, func(tx *store.Tx) error {
		e, err := tx.Exchange(phone)
		if alone = e.Until > now; err == nil {
			_, err = tx.DropExchange(phone)
		}
		return err
	})
	switch err = errors.Join(err, s.Close()); {
	case err != nil:
		return err
	case !alone:
		_, err = fmt.Fprintf(w.out, "%s was not left alone.\n", phone)
	default:
		_, err = fmt.Fprintf(w.out, "%s is answered again, and left alone again if its texts go on like that.\n", phone)
	}
	return err
}

// sendingShowCmd is rowbell sending without a subcommand: it shows whether texts are sent, what waits and the cost.
type sendingShowCmd struct {
	recordsFlags
}

// sendingSeen is what the records have about sending.
type sendingSeen struct {
	hold    store.SendingHold
	held    bool
	waiting []store.WaitingTexts
	ended   []store.Ended // texts that reached a final state since midnight UTC
	spends  []store.Spend
	toOne   int64 // the most texts sent to one number since midnight UTC

	alone    []store.LeftAlone // numbers that get no answers now, not all of them
	aloneAll int64
}

// Run prints the operator hold, the waiting texts, the texts that ended today, and what was spent.
func (c *sendingShowCmd) Run(w *world) error {
	now := w.now()
	s, conf, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	var seen sendingSeen
	err = s.View(w.ctx, func(tx *store.Tx) (err error) {
		if seen.hold, seen.held, err = tx.SendingHeld(); err != nil {
			return err
		}
		if seen.alone, seen.aloneAll, err = tx.LeftAlone(now.Unix()); err != nil {
			return err
		}
		seen.spends, err = tx.Spends(now.Unix())
		return err
	})
	if err == nil {
		err = seen.count(w, s)
	}
	if err := errors.Join(err, s.Close()); err != nil {
		return err
	}
	return seen.print(w.out, conf, now)
}

// count counts the texts in pages, because there may be millions.
func (s *sendingSeen) count(w *world, records *store.Store) error {
	p := w.progress("counting the texts")
	defer p.stop()
	now := w.now()
	waits, err := records.CountWaits(w.ctx, now.Unix())
	if err != nil {
		return err
	}
	s.waiting = waits.Texts
	midnight := now.UTC().Truncate(24 * time.Hour).Unix()
	if s.ended, err = records.CountEnded(w.ctx, midnight, func(looked int) { p.step(looked, 0) }); err != nil {
		return err
	}
	s.toOne, _, err = records.CountToOne(w.ctx, now.Unix())
	return err
}

var waitingWords = map[string]string{
	"due": "due now", "later": "due later", "again": "to be tried again",
	"doubt":   "to be tried again, may have arrived",
	"sending": "on the way", "held": "deferred by a limit",
}

var endedWords = map[store.State]string{
	store.Accepted: "taken, and not heard of again", store.Delivered: "delivered",
	store.Refused: "refused by the network",
	store.Expired: "expired: no longer useful", store.Withdrawn: "withdrawn: something newer, or a STOP",
	store.Unknown: "unknown: a network may have them",
}

// print prints the numbers of texts and amounts of money, each with its limit.
func (s sendingSeen) print(out io.Writer, conf config.Config, now time.Time) error {
	if s.held {
		since := time.Unix(s.hold.Since, 0).UTC().Format("2 January 2006 15:04 UTC")
		fmt.Fprintf(out, "Sending: held since %s: %s\n", since, s.hold.Why)
	} else {
		fmt.Fprintln(out, "Sending: on")
	}
	var waiting, ended, spent plan.Section
	if len(s.waiting) == 0 {
		waiting.Line("Nothing waits to be sent.")
	} else {
		waiting.Line("waits\ttexts\tthe oldest for\tthe first ends in")
		for _, p := range s.waiting {
			waiting.Line(fmt.Sprintf("%s\t%d\t%s\t%s", waitingWords[p.What], p.Texts, span(now.Unix()-p.Oldest),
				span(p.EndsFirst-now.Unix())))
		}
	}
	if len(s.ended) > 0 {
		ended.Line("today (UTC)")
		ended.Align()
		for _, e := range s.ended {
			ended.Line(fmt.Sprintf("%d\t%s", e.Texts, endedWords[e.State]))
		}
	}
	money := strings.TrimSpace("money " + conf.Limits.Currency)
	spent.Line(fmt.Sprintf("sent (UTC)\ttoday: texts\tsegments\t%s\tthis month: texts\tsegments\t%s", money, money))
	for _, p := range s.spends {
		name, l := "all", limit.Set{}
		if p.Scope == "" {
			l = conf.Limits.Set
		} else {
			name = strings.Replace(p.Scope, "/", " ", 1)
			l = conf.Gateways[strings.TrimPrefix(p.Scope, "gateway/")].Limits
		}
		spent.Line(fmt.Sprintf("%s\t%d%s\t%d\t%s%s\t%d\t%d\t%s%s", name, p.Texts, ofLimit(float64(l.TextsADay)),
			p.Segments, inMoney(p.Micros), ofLimit(l.MoneyADay), p.MonthTexts, p.MonthSegments, inMoney(p.MonthMicros),
			ofLimit(l.MoneyAMonth)))
	}
	if l := conf.Limits.Number; l != (limit.Set{}) && len(s.spends) > 0 {
		spent.Line(fmt.Sprintf("most to one number\t%d%s\t\t\t\t\t", s.toOne,
			ofLimit(float64(l.TextsADay))))
	}
	fmt.Fprintln(out)
	return plan.Table(out, waiting, ended, spent, s.leftAlone())
}

// leftAlone lists the numbers that get no answers now.
func (s sendingSeen) leftAlone() (list plan.Section) {
	if s.aloneAll == 0 {
		return list
	}
	list.Line(fmt.Sprintf("left alone, like a machine: %d\tuntil (UTC)\tbecause of", s.aloneAll))
	for _, l := range s.alone {
		why := fmt.Sprintf("%d texts in a row that were not understood", l.Fruitless)
		if l.Flooded {
			why = "too many texts, or too many that are alike"
		}
		list.Line(fmt.Sprintf("%s\t%s\t%s", l.Phone, time.Unix(l.Until, 0).UTC().Format("2 Jan 15:04"), why))
	}
	return list
}

// ofLimit formats " of N"; "" without a limit.
func ofLimit(limit float64) string {
	if limit == 0 {
		return ""
	}
	return fmt.Sprintf(" of %g", limit)
}

// inMoney formats millionths of the currency with two decimals.
func inMoney(micros int64) string { return fmt.Sprintf("%.2f", float64(micros)/1e6) }

// span formats a time span with its two largest units.
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
