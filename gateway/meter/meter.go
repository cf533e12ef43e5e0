// Package meter counts what an operator watches, and serves the counts on /metrics in the text format of Prometheus.
// A nil *Meter counts nothing.
//
//	m := meter.New(meter.Options{Clock: c, Store: s, Gateways: []string{"local"}})
//	m.Callback("local", "ussd", "ok", took)
//	router.Handle("/metrics", m.Handler())
//
// No phone number, text, secret or other value that a caller chose becomes a label: a value outside a label's fixed
// list is counted as "unknown". To count something new, add a method that does nothing for a nil Meter. Values from the
// records are in records.go, how they are counted in counts.go, the page itself in page.go.
package meter

import (
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/VictoriaMetrics/metrics"

	"rowbell/gateway/clock"
	"rowbell/store"
)

// Options configure a Meter. Clock and Store must be set.
type Options struct {
	Clock    clock.Clock
	Store    *store.Store
	Gateways []string // names of the networks
	Version  string   // version of this program
	Process  string   // name of this process among those that share the records; "" = no metric
	DB       string   // path of the database file, whose size is a metric; "" = no metric
	Disks    []Disk   // file systems whose free space is a metric

	Spend        func() ([]SpendRow, error) // returns what was spent on texts so far; nil = no metric
	OperatorHold func() bool                // reports whether the operator stopped sending; nil = no metric
	// BackupShrunken reports whether the newest nightly backup lacks growers; nil = no metric.
	BackupShrunken func() bool
}

// Disk is a file system, named by what is stored on it.
type Disk struct {
	Name string // what is stored on it: records or backups
	Path string // any folder on that file system; not shown in the metrics
}

// SpendRow is the cost of one network's texts, in millionths of the currency unit.
type SpendRow struct {
	Gateway      string
	Today, Month int64 // spent since midnight UTC, and since the first of the month
}

// Meter contains the metrics. It is safe for concurrent use.
type Meter struct {
	o        Options
	set      *metrics.Set
	records  *records
	gateways atomic.Pointer[[]string] // names of the networks

	mu   sync.Mutex
	open map[string]bool // networks whose breaker is open
}

// unknown is the label for any value that is not in the label's list of values.
const unknown = "unknown"

// The fixed lists of the values that a label may have. Any other value is counted as unknown.
var (
	kinds         = []string{"ussd", "sms", "receipt"}
	outcomes      = []string{"ok", "repeat", "refused", "denied", "limited", "failed"}
	scopes        = []string{"number", "gateway", "all"}
	limits        = []string{"calls", "sessions", "texts", "money-day", "money-month", "switch"}
	pushOutcomes  = []string{"taken", "again", "never", "number", "unsure", "expired"}
	receiptStates = []string{"delivered", "failed", "expired", "accepted"}
	itemKinds     = []string{"sms", "receipt"}
	itemOutcomes  = []string{"ok", "repeat", "refused", "limited", "failed"}

	receiptOutcomes = []string{"noted", "stray"}
	secretOutcomes  = []string{"wrong", "paused"}
	noAnswerReasons = []string{"own", "echo", "report", "repeat", "paused"}
)

// The bounds of the histograms, in seconds. Networks and growers wait a few seconds for a screen, so most bounds are
// below two seconds. Sending a text may take longer.
var (
	callbackBuckets = []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2, 5}
	pushBuckets     = []float64{.01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30}
)

var (
	familyCallbacks = declare("rowbell_callbacks_total",
		"Callbacks from networks. repeat: answered with the stored reply; refused: could not be read; "+
			"denied: not authenticated; failed: an error of ours, rolled back.", "gateway", "kind", "outcome")
	familyCallbackTook = declare("rowbell_callback_duration_seconds",
		"Time from a callback to its answer, which is on disk by then.", "gateway", "kind")
	familyLimited = declare("rowbell_limited_total",
		"Calls refused and texts deferred by a limit. The scope says whose limit it was, the limit which.",
		"gateway", "limit", "scope")
	familyNotAnswered = declare("rowbell_texts_not_answered_total",
		"Texts that got no answer because a machine most likely wrote them. own: from a sender of ours; echo: a text "+
			"of ours that came back; report: in words on a text of ours; repeat: the same text again; paused: the "+
			"number is left alone.", "gateway", "reason")
	familyWrongSecrets = declare("rowbell_wrong_secrets_total",
		"Calls with a wrong secret. paused: the secret was not looked at, because too many wrong ones had come.",
		"gateway", "outcome")
	familyPushes = declare("rowbell_push_tries_total",
		"Tries to send a text. never and number: the network refused it; unsure: it may have taken it; "+
			"expired: it asked for a wait beyond the text's last useful time.",
		"gateway", "outcome")
	familyRetries  = declare("rowbell_push_retries_total", "Tries after which the text is to be sent again.", "gateway")
	familyPushTook = declare("rowbell_push_duration_seconds", "Time that a network took for one text.", "gateway")
	familyBreakers = declare("rowbell_breaker_open",
		"Whether the circuit breaker of a network is open, because it failed too often or asked for a pause: "+
			"1 or 0.", "gateway")
	familyReceipts = declare("rowbell_receipts_total",
		"Receipts from networks. noted: its text was found; stray: its id belongs to no text in the outbox.",
		"gateway", "outcome", "state")
	familyItems = declare("rowbell_items_total",
		"Texts and receipts in calls that may have several. The outcomes are those of rowbell_callbacks_total.",
		"gateway", "kind", "outcome")
	familyBellLag = declare("rowbell_bell_lag_seconds", "How late the longest waiting plot was in the bell's last run.")
	familyRefused = declare("rowbell_configuration_refused",
		"Whether the last change of the configuration or of a secret's file was refused, "+
			"so that the earlier one stays in use: 1 or 0.")
	familyBuild = declare("rowbell_build_info", "Always 1. The labels say what this program was built from.",
		"go", "sqlite", "version")
	familyProcess = declare("rowbell_process_info",
		"Always 1. The label names this process among those that share the records on a server.", "process")
)

// New returns a meter with its own metrics.
func New(o Options) *Meter {
	if o.Clock == nil || o.Store == nil {
		panic("meter: New needs a Clock and a Store")
	}
	m := &Meter{o: o, set: metrics.NewSet(), open: map[string]bool{}}
	m.gateways.Store(&o.Gateways)
	m.records = &records{o: o, gateways: &m.gateways, counts: counts{o: o}}
	m.gauge(familyBellLag)
	m.gauge(familyRefused)
	m.gauge(familyBuild, runtime.Version(), store.SQLite(), o.Version).Set(1)
	if o.Process != "" {
		m.gauge(familyProcess, o.Process).Set(1)
	}
	m.initialise()
	return m
}

func (m *Meter) counter(f family, labels ...string) *metrics.Counter {
	return m.set.GetOrCreateCounter(f.series(labels...))
}

func (m *Meter) gauge(f family, labels ...string) *metrics.Gauge {
	return m.set.GetOrCreateGauge(f.series(labels...), nil)
}

func (m *Meter) histogram(f family, buckets []float64, labels ...string) *metrics.PrometheusHistogram {
	return m.set.GetOrCreatePrometheusHistogramExt(f.series(labels...), buckets)
}

// initialise exports the series of each network as 0, so that the first failure is visible as an increase. Left out are
// durations, and limits and receipts, whose labels have pairs of values that never occur.
func (m *Meter) initialise() {
	for _, g := range *m.gateways.Load() {
		m.gauge(familyBreakers, g)
		m.counter(familyRetries, g)
		for _, kind := range kinds {
			for _, outcome := range outcomes {
				m.counter(familyCallbacks, g, kind, outcome)
			}
		}
		for _, reason := range noAnswerReasons {
			m.counter(familyNotAnswered, g, reason)
		}
		for _, outcome := range secretOutcomes {
			m.counter(familyWrongSecrets, g, outcome)
		}
		for _, kind := range itemKinds {
			for _, outcome := range itemOutcomes {
				m.counter(familyItems, g, kind, outcome)
			}
		}
		for _, outcome := range pushOutcomes {
			m.counter(familyPushes, g, outcome)
		}
	}
}

// off reports whether the Meter counts nothing, which is the case for a nil or a zero Meter.
func (m *Meter) off() bool { return m == nil || m.set == nil }

// gateway returns the label for a network's name.
func (m *Meter) gateway(name string) string { return known(name, *m.gateways.Load()) }

// SetGateways replaces the names of the networks. What was counted of a network that is gone stays in its series.
func (m *Meter) SetGateways(names []string) {
	if m.off() {
		return
	}
	m.gateways.Store(&names)
	m.mu.Lock()
	for name := range m.open {
		if !slices.Contains(names, name) {
			delete(m.open, name)
			m.set.UnregisterMetric(familyBreakers.series(name))
		}
	}
	m.mu.Unlock()
	m.initialise()
}

func known(v string, values []string) string {
	if slices.Contains(values, v) {
		return v
	}
	return unknown
}

// Callback counts a callback: its network, kind (ussd, sms, receipt), outcome (ok, repeat, refused, denied, limited,
// failed), and the time until its answer.
func (m *Meter) Callback(gateway, kind, outcome string, took time.Duration) {
	if m.off() {
		return
	}
	gateway, kind = m.gateway(gateway), known(kind, kinds)
	m.counter(familyCallbacks, gateway, kind, known(outcome, outcomes)).Inc()
	m.histogram(familyCallbackTook, callbackBuckets, gateway, kind).Update(took.Seconds())
}

// Limited counts a call or a text over a limit. scope says whose limit: number, gateway or all. limit says which:
// calls, sessions, texts, money-day, money-month, or switch for an operator hold.
func (m *Meter) Limited(gateway, scope, limit string) {
	if !m.off() {
		m.counter(familyLimited, m.gateway(gateway), known(limit, limits), known(scope, scopes)).Inc()
	}
}

// WrongSecret counts a call with a wrong secret. The outcome is wrong, or paused if the secret was not looked at.
func (m *Meter) WrongSecret(gateway, outcome string) {
	if !m.off() {
		m.counter(familyWrongSecrets, m.gateway(gateway), known(outcome, secretOutcomes)).Inc()
	}
}

// NotAnswered counts a text that got no answer because a machine most likely wrote it. The reasons are: own (its sender
// is this service); echo (a text of ours that came back); report (words on what became of a text of ours); repeat (the
// same text again and again); paused (the number is left alone for a while).
func (m *Meter) NotAnswered(gateway, reason string) {
	if !m.off() {
		m.counter(familyNotAnswered, m.gateway(gateway), known(reason, noAnswerReasons)).Inc()
	}
}

// Pushed counts a try to send a text, and how long the try took. The outcomes are: taken; again (the text will be tried
// again); never (the text is refused for good); number (it is refused, because the network knows no such number);
// unsure (the network may have taken the text); expired (the network asked for a wait that ends after the text's last
// useful time).
func (m *Meter) Pushed(gateway, outcome string, took time.Duration) {
	if m.off() {
		return
	}
	gateway = m.gateway(gateway)
	m.counter(familyPushes, gateway, known(outcome, pushOutcomes)).Inc()
	m.histogram(familyPushTook, pushBuckets, gateway).Update(took.Seconds())
	if outcome == "again" {
		m.counter(familyRetries, gateway).Inc()
	}
}

// Breaker records whether the circuit breaker of a network is open.
func (m *Meter) Breaker(gateway string, open bool) {
	if m.off() {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.gateway(gateway) == unknown {
		return
	}
	m.open[gateway] = open
	m.gauge(familyBreakers, gateway).Set(oneIf(open))
}

// OpenBreakers lists the networks whose circuit breaker is open, sorted by name.
func (m *Meter) OpenBreakers() []string {
	if m.off() {
		return nil
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	var names []string
	for name, open := range m.open {
		if open {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// Receipt counts a receipt, by the state that it reports and by its outcome: noted (its text was found, even if the
// text's state was already final); stray (its id belongs to no text in the outbox).
func (m *Meter) Receipt(gateway, state, outcome string) {
	if !m.off() {
		outcome, state = known(outcome, receiptOutcomes), known(state, receiptStates)
		m.counter(familyReceipts, m.gateway(gateway), outcome, state).Inc()
	}
}

// Item counts a text or a receipt of a call that may have several, by its outcome: ok, repeat, refused, limited,
// failed.
func (m *Meter) Item(gateway, kind, outcome string) {
	if !m.off() {
		m.counter(familyItems, m.gateway(gateway), known(kind, itemKinds), known(outcome, itemOutcomes)).Inc()
	}
}

// Bell records the lag of the last run of the bell (the reminder loop): how long ago the plot that waited longest was
// due.
func (m *Meter) Bell(lag time.Duration) {
	if !m.off() {
		m.gauge(familyBellLag).Set(lag.Seconds())
	}
}

// ConfigurationRefused records whether the last change of the configuration or of a secret's file was refused.
func (m *Meter) ConfigurationRefused(refused bool) {
	if !m.off() {
		m.gauge(familyRefused).Set(oneIf(refused))
	}
}
