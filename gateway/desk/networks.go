package desk

import (
	"context"
	"fmt"
	"strings"
	"time"

	"rowbell/store"
)

// Networks tells the desk of the networks that carry calls and texts.
type Networks interface {
	// Now returns how the networks do, as this process has seen it.
	Now() NetworksNow
	// Read says in words what is taken for a recorded request of a network, which came from an IP address ("": this
	// machine). The words have no secrets, and are of use also if there is an error. It sends nothing.
	Read(ctx context.Context, network, from string, recorded []byte) (string, error)
}

// NetworksNow is how the networks do.
type NetworksNow struct {
	List     []Network
	Process  string // which process says this, if several share the records; else ""
	Currency string // of all amounts; "" if it is not set
	Limits   Budget // of all networks together
	Deferred []string
	Waits    store.Waits
	Counted  bool // whether Waits was counted yet
}

// Budget is what may be sent. 0 means no limit.
type Budget struct {
	TextsADay              int
	MoneyADay, MoneyAMonth float64
	Texts, Segments        int64 // sent today
	MonthTexts             int64
	Micros, MonthMicros    int64 // spent today and this month, in millionths of the currency
}

// Network is a network with its settings, and how it does.
type Network struct {
	Name        string
	Sends       bool     // texts go through it
	ToLog       bool     // it writes texts to the log
	To          string   // host to which texts are sent
	Routes      []string // prefixes of the numbers to which texts go through it; "" = all others
	Rate        float64  // texts a second; 0 = no limit
	Concurrency int      // texts that are sent at the same time
	PriceMicros int64    // of an SMS segment, in millionths of the currency; 0 = not set
	Once        bool     // it may not get a text twice
	Limits      Budget

	Paused time.Time // end of the pause after failures; zero: texts go out
	Failed int       // failures in a row
	TookAt time.Time // when it last took a text; zero: not since the start
	Errors []NetworkError
}

// NetworkError is why tries did not succeed.
type NetworkError struct {
	Last   time.Time
	Reason string
	Times  int
}

func (d *Desk) networkRoutes() []route {
	return []route{
		{"GET /desk/networks", run, nil, d.networksPage},
		{"POST /desk/networks/hold", run, nil, d.holdTexts},
		{"POST /desk/networks/release", run, nil, d.releaseTexts},
		{"POST /desk/networks/doubt", run, nil, d.decideDoubt},
		{"POST /desk/networks/read", run, nil, d.readRecorded},
	}
}

type networksView struct {
	NetworksNow
	Held      bool
	Hold      store.SendingHold
	Doubt     []store.Message
	DoubtAll  int64
	ReadsAny  bool   // recorded requests can be read
	Read      string // what was taken for a recorded request
	ReadError string
	Choice    field // of a network
}

// Reasons in words of store.WaitingTexts.What.
var waitingWords = map[string]string{
	"due": "due now", "later": "due later", "again": "to be tried again",
	"doubt": "to be tried again, may have arrived", "sending": "on the way", "held": "deferred by a limit",
}

// networksData reads what the page shows.
func (d *Desk) networksData(r *request) (v networksView, err error) {
	if d.o.Networks != nil {
		v.NetworksNow, v.ReadsAny = d.o.Networks.Now(), true
	}
	var spends []store.Spend
	now := r.now.Unix()
	err = r.view(func(tx *store.Tx) (err error) {
		if v.Hold, v.Held, err = tx.SendingHeld(); err != nil {
			return err
		}
		if spends, err = tx.Spends(now); err != nil {
			return err
		}
		if v.Doubt, err = tx.Undecided(now, now, pageSize); err != nil {
			return err
		}
		v.DoubtAll, err = tx.UndecidedCount(now)
		return err
	})
	for _, s := range spends {
		if s.Scope == "" {
			v.Limits.spend(s)
		}
		for i := range v.List {
			if s.Scope == "gateway/"+v.List[i].Name {
				v.List[i].Limits.spend(s)
			}
		}
	}
	var pairs []string
	for _, n := range v.List {
		pairs = append(pairs, n.Name, n.Name)
	}
	v.Choice = r.form.Choice("network", "Network", "", pairs...)
	return v, err
}

func (b *Budget) spend(s store.Spend) {
	b.Texts, b.Segments, b.Micros = s.Texts, s.Segments, s.Micros
	b.MonthTexts, b.MonthMicros = s.MonthTexts, s.MonthMicros
}

// Money formats millionths of the currency with two decimals.
func (v networksView) Money(micros int64) string {
	return strings.TrimSpace(fmt.Sprintf("%.2f ", float64(micros)/1e6) + v.Currency)
}

// More reports whether more texts are in doubt than the page shows.
func (v networksView) More() bool { return v.DoubtAll > int64(len(v.Doubt)) }

// Of formats a limit behind an amount; "" without a limit.
func (v networksView) Of(limit any) string {
	if n := fmt.Sprint(limit); n != "0" {
		return " of " + n
	}
	return ""
}

// State says in words how a network does.
func (n Network) State(now time.Time) string {
	failures := plural(n.Failed, "failure", "failures") + " in a row"
	switch {
	case n.ToLog:
		return "writes texts to the log; nothing is sent"
	case !n.Sends:
		return "brings calls and texts; sends none"
	case n.Paused.After(now):
		return "paused for " + waitWords(n.Paused.Sub(now)) + ", after " + failures
	case !n.Paused.IsZero():
		return "paused, and the next text tries it; " + failures
	case n.Failed > 0:
		return "tried again; " + failures
	case n.TookAt.IsZero():
		return "not used since the start"
	}
	return "works"
}

// Well reports whether nothing is wrong with a network.
func (n Network) Well() bool { return n.Failed == 0 && n.Paused.IsZero() }

// Waiting lists the texts that wait, as they were counted.
func (v networksView) Waiting() (list []waitingLine) {
	for _, w := range v.Waits.Texts {
		list = append(list, waitingLine{waitingWords[w.What], w.Texts, ageWords(v.Waits.At - w.Oldest),
			ageWords(w.EndsFirst - v.Waits.At)})
	}
	return list
}

type waitingLine struct {
	Why          string
	Texts        int64
	Oldest, Ends string
}

// ageWords formats a time span in its largest unit.
func ageWords(seconds int64) string {
	switch {
	case seconds < 60:
		return "less than a minute"
	case seconds < 2*60*60:
		return plural(int(seconds/60), "minute", "minutes")
	case seconds < 48*60*60:
		return plural(int(seconds/3600), "hour", "hours")
	}
	return plural(int(seconds/86400), "day", "days")
}

func (d *Desk) networksPage(r *request) error {
	v, err := d.networksData(r)
	if err != nil {
		return err
	}
	return r.page("networks", "Networks", v)
}

// againNetworks answers with the page and the mistakes of the form.
func (d *Desk) againNetworks(r *request) error {
	v, err := d.networksData(r)
	if err != nil {
		return err
	}
	return r.again("networks", "Networks", v)
}
