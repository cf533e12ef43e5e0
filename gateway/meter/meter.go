// Package meter counts what an operator watches, for /metrics, in the formats
// of Prometheus and OpenMetrics. No number, no text and no secret is ever a
// label, and nothing that a caller chose: a name that is not known is counted
// under "unknown". A nil *Meter counts nothing.
//
//	m := meter.New(meter.Options{Clock: c, Store: s, Gateways: []string{"local"}})
//	m.Callback("local", "ussd", "ok", took)
//	router.Handle("/metrics", m.Handler())
package meter

import (
	"net/http"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"rowbell/gateway/clock"
	"rowbell/store"
)

// Options are what a Meter needs. Clock and Store must be set.
type Options struct {
	Clock    clock.Clock
	Store    *store.Store
	Gateways []string // the networks by name: others are counted as unknown
	Version  string   // of this program
	DB       string   // the database file, for its size; "" = not told
	Disks    []Disk   // whose free room is told

	Spend func() ([]SpendRow, error) // what was spent on texts; nil = not told
	Held  func() bool                // whether the operator holds all texts back; nil = not told
}

// Disk is a file system, by what lies on it.
type Disk struct {
	Name string // records, backups
	Path string // any folder on it; never told
}

// SpendRow is what one network's texts have cost, in millionths of the
// currency unit.
type SpendRow struct {
	Gateway      string
	Today, Month int64 // since midnight UTC, since the first of the month
}

// Meter is what is counted.
type Meter struct {
	o        Options
	registry *prometheus.Registry

	callbacks    *prometheus.CounterVec
	callbackTook *prometheus.HistogramVec
	limited      *prometheus.CounterVec
	pushes       *prometheus.CounterVec
	retries      *prometheus.CounterVec
	pushTook     *prometheus.HistogramVec
	breakers     *prometheus.GaugeVec
	receipts     *prometheus.CounterVec
	bellLag      prometheus.Gauge

	mu   sync.Mutex
	open map[string]bool // networks that are left alone for now
}

// unknown is what a name that is not one of ours is counted as.
const unknown = "unknown"

// The values that labels may have.
var (
	kinds         = []string{"ussd", "sms", "receipt"}
	outcomes      = []string{"ok", "repeat", "refused", "denied", "limited", "failed"}
	scopes        = []string{"number", "gateway", "all"}
	limits        = []string{"calls", "sessions", "texts", "money-day", "money-month", "switch"}
	pushOutcomes  = []string{"taken", "again", "never", "number", "unsure"}
	receiptStates = []string{"delivered", "failed", "expired", "accepted"}
	receiptEnds   = []string{"noted", "stray", "late"}
)

// A phone's network waits a few seconds for the next screen and growers less:
// most bounds lie below two seconds. A network may take longer over a text.
var (
	callbackBuckets = []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2, 5}
	pushBuckets     = []float64{.01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30}
)

// New returns a meter with a registry of its own.
func New(o Options) *Meter {
	if o.Clock == nil || o.Store == nil {
		panic("meter: New needs a Clock and a Store")
	}
	m := &Meter{o: o, registry: prometheus.NewRegistry(), open: map[string]bool{}}
	counter := func(name, help string, labels ...string) *prometheus.CounterVec {
		c := prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: help}, labels)
		m.registry.MustRegister(c)
		return c
	}
	histogram := func(name, help string, buckets []float64, labels ...string) *prometheus.HistogramVec {
		h := prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: name, Help: help, Buckets: buckets}, labels)
		m.registry.MustRegister(h)
		return h
	}
	m.callbacks = counter("rowbell_callbacks_total",
		"Calls that came in from networks. A repeat got the answer that the call had got; refused could not be read; denied did not prove who calls; failed was ours and undone.", "gateway", "kind", "outcome")
	m.callbackTook = histogram("rowbell_callback_duration_seconds",
		"Time from a call of a network to its answer, which is on disk by then.", callbackBuckets, "gateway", "kind")
	m.limited = counter("rowbell_limited_total",
		"What limits held back. The scope says whose limit it was, the limit which.", "gateway", "scope", "limit")
	m.pushes = counter("rowbell_push_tries_total",
		"Tries to send a text. Of one that is unsure no answer was heard.", "gateway", "outcome")
	m.retries = counter("rowbell_push_retries_total",
		"Texts that a network did not take for now and that are to be tried again.", "gateway")
	m.pushTook = histogram("rowbell_push_duration_seconds",
		"Time that a network took over one text.", pushBuckets, "gateway")
	m.breakers = prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "rowbell_breaker_open",
		Help: "Whether a network is left alone for now because it failed too often: 1 or 0."}, []string{"gateway"})
	m.receipts = counter("rowbell_receipts_total",
		"Receipts that networks sent. A stray one names no text of ours; a late one changed nothing any more.", "gateway", "state", "outcome")
	m.bellLag = prometheus.NewGauge(prometheus.GaugeOpts{Name: "rowbell_bell_lag_seconds",
		Help: "How late the plot that had waited longest was looked at in the bell's last round."})
	build := prometheus.NewGauge(prometheus.GaugeOpts{Name: "rowbell_build_info",
		Help:        "Always 1. The labels say what this program was built from.",
		ConstLabels: prometheus.Labels{"version": o.Version, "go": runtime.Version(), "sqlite": store.SQLite()}})
	build.Set(1)
	m.registry.MustRegister(m.breakers, m.bellLag, build, newRecords(o),
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	// What has not happened yet stands there as 0, so that a first failure is a
	// rise.
	for _, g := range o.Gateways {
		m.breakers.WithLabelValues(g)
		m.retries.WithLabelValues(g)
		for _, kind := range kinds {
			for _, outcome := range outcomes {
				m.callbacks.WithLabelValues(g, kind, outcome)
			}
		}
		for _, outcome := range pushOutcomes {
			m.pushes.WithLabelValues(g, outcome)
		}
	}
	return m
}

// Handler answers with all that was counted.
func (m *Meter) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{
		EnableOpenMetrics: true, ErrorHandling: promhttp.ContinueOnError, MaxRequestsInFlight: 2,
	})
}

// Gatherer is what Handler tells, for tests.
func (m *Meter) Gatherer() prometheus.Gatherer { return m.registry }

// off reports that nothing is counted.
func (m *Meter) off() bool { return m == nil || m.registry == nil }

// gateway is a network's name if there is one of this name.
func (m *Meter) gateway(name string) string { return known(name, m.o.Gateways) }

func known(v string, values []string) string {
	if slices.Contains(values, v) {
		return v
	}
	return unknown
}

// Callback counts a call that came in: its network, its kind (ussd, sms,
// receipt), how it ended (ok, repeat, refused, denied, limited, failed), and
// how long it took.
func (m *Meter) Callback(gateway, kind, outcome string, took time.Duration) {
	if m.off() {
		return
	}
	gateway, kind = m.gateway(gateway), known(kind, kinds)
	m.callbacks.WithLabelValues(gateway, kind, known(outcome, outcomes)).Inc()
	m.callbackTook.WithLabelValues(gateway, kind).Observe(took.Seconds())
}

// Limited counts what a limit held back: whose limit (number, gateway, all)
// and which (calls, sessions, texts, money-day, money-month, switch).
func (m *Meter) Limited(gateway, scope, limit string) {
	if m.off() {
		return
	}
	m.limited.WithLabelValues(m.gateway(gateway), known(scope, scopes), known(limit, limits)).Inc()
}

// Pushed counts one try to send a text: its network and how it ended (taken,
// again, never, number, unsure).
func (m *Meter) Pushed(gateway, outcome string, took time.Duration) {
	if m.off() {
		return
	}
	gateway = m.gateway(gateway)
	m.pushes.WithLabelValues(gateway, known(outcome, pushOutcomes)).Inc()
	m.pushTook.WithLabelValues(gateway).Observe(took.Seconds())
	if outcome == "again" {
		m.retries.WithLabelValues(gateway).Inc()
	}
}

// Breaker tells whether a network is left alone for now.
func (m *Meter) Breaker(gateway string, open bool) {
	if m.off() || m.gateway(gateway) == unknown {
		return
	}
	value := 0.0
	if open {
		value = 1
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.open[gateway] = open
	m.breakers.WithLabelValues(gateway).Set(value)
}

// LeftAlone lists the networks that are left alone for now, by name.
func (m *Meter) LeftAlone() []string {
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

// Receipt counts a receipt: its network, what it said, and what became of it
// (noted, stray, late).
func (m *Meter) Receipt(gateway, state, outcome string) {
	if m.off() {
		return
	}
	m.receipts.WithLabelValues(m.gateway(gateway), known(state, receiptStates), known(outcome, receiptEnds)).Inc()
}

// Bell tells how late the plot that waits longest is looked at.
func (m *Meter) Bell(lag time.Duration) {
	if m.off() {
		return
	}
	m.bellLag.Set(lag.Seconds())
}
