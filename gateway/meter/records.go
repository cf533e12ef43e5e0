package meter

import (
	"context"
	"os"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"rowbell/store"
)

// records tells what only the records know. They are read at most once in
// readEvery by the clock, since that reads whole tables; sizes and free room
// are looked at each time.
type records struct {
	o Options

	mu     sync.Mutex
	readAt time.Time // when the last try began
	goodAt time.Time // when stats and overdue are of; the zero time: never
	stats  store.Stats
	late   time.Duration // of the plot that waits longest
	failed int
}

const (
	readEvery  = 30 * time.Second
	readWithin = 10 * time.Second
)

func newRecords(o Options) *records { return &records{o: o} }

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc(name, help, labels, nil)
}

var (
	descGrowers  = desc("rowbell_growers", "Growers with a number, also those who want no texts.")
	descStopped  = desc("rowbell_growers_stopped", "Growers with a number who want no texts.")
	descPlots    = desc("rowbell_plots_open", "Plots whose season is on.")
	descDue      = desc("rowbell_plots_due", "Plots that the bell should have looked at by now.")
	descLate     = desc("rowbell_plots_due_oldest_seconds", "How long the plot that waits longest for the bell has been waiting.")
	descSessions = desc("rowbell_sessions_open", "Dialogues that can still be gone on with, on both channels.")
	descOutbox   = desc("rowbell_outbox_messages", "Texts in the records by where they stand.", "state")
	descWaiting  = desc("rowbell_outbox_oldest_seconds",
		"How long the text that waits longest in this state has been due. A network that sends no receipts leaves its texts accepted.", "state")
	descStatsAt = desc("rowbell_records_read_timestamp_seconds", "When growers, plots, sessions and outbox were last counted.")
	descFailed  = desc("rowbell_records_read_failures_total", "How often counting them failed.")
	descDB      = desc("rowbell_database_size_bytes", "Size of the database file.")
	descWAL     = desc("rowbell_database_wal_size_bytes", "Size of the database's write-ahead log.")
	descFree    = desc("rowbell_disk_free_bytes", "Room that is left on the disk of the records or the backups.", "disk")
	descTotal   = desc("rowbell_disk_size_bytes", "Size of the disk of the records or the backups.", "disk")
	descToday   = desc("rowbell_spend_today", "What texts have cost since midnight UTC, in the currency of the prices.", "gateway")
	descMonth   = desc("rowbell_spend_month", "What texts have cost since the first of the month in UTC, in the currency of the prices.", "gateway")
	descHeld    = desc("rowbell_sending_held", "Whether the operator holds all texts back: 1 or 0.")
)

// Describe sends what Collect may tell.
func (r *records) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descGrowers, descStopped, descPlots, descDue, descLate, descSessions, descOutbox, descWaiting,
		descStatsAt, descFailed, descDB, descWAL, descFree, descTotal, descToday, descMonth, descHeld} {
		ch <- d
	}
}

// waiting are the states in which a text is still expected to move.
var (
	waiting = []store.State{store.Queued, store.Claimed, store.Accepted}
	ended   = []store.State{store.Delivered, store.Refused, store.Expired, store.Withdrawn, store.Unknown}
)

// Collect tells what is so.
func (r *records) Collect(ch chan<- prometheus.Metric) {
	r.mu.Lock()
	defer r.mu.Unlock()
	tell := func(d *prometheus.Desc, v float64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	now := r.o.Clock.Now()
	if since := now.Sub(r.readAt); r.readAt.IsZero() || since >= readEvery || since < 0 {
		r.read(now)
	}
	ch <- prometheus.MustNewConstMetric(descFailed, prometheus.CounterValue, float64(r.failed))
	if !r.goodAt.IsZero() {
		tell(descStatsAt, float64(r.goodAt.Unix()))
		tell(descGrowers, float64(r.stats.Growers))
		tell(descStopped, float64(r.stats.Stopped))
		tell(descPlots, float64(r.stats.OpenPlots))
		tell(descDue, float64(r.stats.DuePlots))
		tell(descLate, r.late.Seconds())
		tell(descSessions, float64(r.stats.Sessions))
		for _, s := range append(ended, waiting...) {
			tell(descOutbox, float64(r.stats.Outbox[s]), string(s))
		}
		for _, s := range waiting {
			age := 0.0
			if oldest := r.stats.Oldest[s]; oldest > 0 {
				age = max(0, float64(r.goodAt.Unix()-oldest))
			}
			tell(descWaiting, age, string(s))
		}
	}
	r.disks(tell)
	r.money(tell)
}

// read counts anew. What was counted before stands where that fails.
func (r *records) read(now time.Time) {
	r.readAt = now
	ctx, cancel := context.WithTimeout(context.Background(), readWithin)
	defer cancel()
	var st store.Stats
	oldest := now.Unix()
	err := r.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		if st, err = tx.Stats(now.Unix()); err != nil {
			return err
		}
		behind, err := tx.Behind(now.Unix())
		for _, b := range behind {
			oldest = min(oldest, b.Oldest)
		}
		return err
	})
	if err != nil {
		r.failed++
		return
	}
	r.goodAt, r.stats, r.late = now, st, time.Duration(now.Unix()-oldest)*time.Second
}

type tellFunc func(d *prometheus.Desc, v float64, labels ...string)

func (r *records) disks(tell tellFunc) {
	if r.o.DB != "" {
		for file, d := range map[string]*prometheus.Desc{r.o.DB: descDB, r.o.DB + "-wal": descWAL} {
			if info, err := os.Stat(file); err == nil {
				tell(d, float64(info.Size()))
			}
		}
	}
	for _, d := range r.o.Disks {
		if free, total, ok := Room(d.Path); ok {
			tell(descFree, float64(free), d.Name)
			tell(descTotal, float64(total), d.Name)
		}
	}
}

func (r *records) money(tell tellFunc) {
	if r.o.Held != nil {
		held := 0.0
		if r.o.Held() {
			held = 1
		}
		tell(descHeld, held)
	}
	if r.o.Spend == nil {
		return
	}
	rows, err := r.o.Spend()
	if err != nil {
		r.failed++
		return
	}
	var of = map[string]SpendRow{}
	for _, row := range rows { // those of networks that are gone are one
		name := known(row.Gateway, r.o.Gateways)
		sum := of[name]
		of[name] = SpendRow{name, sum.Today + row.Today, sum.Month + row.Month}
	}
	for name, row := range of {
		tell(descToday, float64(row.Today)/1e6, name)
		tell(descMonth, float64(row.Month)/1e6, name)
	}
}
