package meter

import (
	"context"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"github.com/VictoriaMetrics/metrics"

	"rowbell/store"
)

// records makes the metrics that come from the records. It counts growers, plots and texts at most once in each
// readEvery, because counting reads whole tables. It reads file sizes and free space on each scrape.
type records struct {
	o        Options
	gateways *atomic.Pointer[[]string] // names of the networks

	mu     sync.Mutex
	readAt time.Time // when the last read started
	goodAt time.Time // when stats and late were read; zero: never
	stats  store.Stats
	late   time.Duration // how long ago the plot that waits longest for the bell (the reminder loop) was due
	failed int           // number of reads that failed
}

const (
	readEvery   = 30 * time.Second
	readTimeout = 10 * time.Second
)

var (
	familyGrowers  = declare("rowbell_growers", "Growers with a number, also those who want no texts.")
	familyStopped  = declare("rowbell_growers_stopped", "Growers with a number who want no texts.")
	familyPlots    = declare("rowbell_plots_open", "Plots whose season is not closed.")
	familyDue      = declare("rowbell_plots_due", "Plots that are due for the bell.")
	familyLate     = declare("rowbell_plots_due_oldest_seconds", "How long the longest waiting plot has been due.")
	familySessions = declare("rowbell_sessions_open", "Dialogues that can still be continued, on both channels.")
	familyAlone    = declare("rowbell_numbers_left_alone",
		"Numbers whose texts get no answer for a while, because a machine most likely writes them.")
	familyOutbox  = declare("rowbell_outbox_messages", "Texts in the records by their state.", "state")
	familyWaiting = declare("rowbell_outbox_oldest_seconds",
		"How long the longest waiting text of this state has been due. "+
			"A network that sends no receipts leaves its texts accepted.", "state")
	familyStatsAt = declare("rowbell_records_read_timestamp_seconds",
		"When growers, plots, sessions and outbox were last counted.")
	familyFailed = declare("rowbell_records_read_failures_total",
		"How often the records or the costs could not be read.")
	familyDetached = declare("rowbell_records_detached",
		"Whether the open database is no longer the file at its path, so that calls are refused: 1 or 0.")
	familyShrunken = declare("rowbell_backup_shrunken",
		"Whether the newest nightly backup has fewer than half of the growers of the last one: 1 or 0.")
	familyDB    = declare("rowbell_database_size_bytes", "Size of the database file.")
	familyWAL   = declare("rowbell_database_wal_size_bytes", "Size of the database's write-ahead log.")
	familyFree  = declare("rowbell_disk_free_bytes", "Free space on the disk of the records or the backups.", "disk")
	familyTotal = declare("rowbell_disk_size_bytes", "Size of the disk of the records or the backups.", "disk")
	familyToday = declare("rowbell_spend_today",
		"Cost of texts since midnight UTC, in the currency of the prices.", "gateway")
	familyMonth = declare("rowbell_spend_month",
		"Cost of texts since the first of the month in UTC, in the currency of the prices.", "gateway")
	familyHold = declare("rowbell_sending_held", "Whether an operator hold stops all texts: 1 or 0.")
)

// The states of texts: the states that may still change by themselves, and the final states.
var (
	waiting = []store.State{store.Queued, store.Claimed, store.Accepted}
	ended   = []store.State{store.Delivered, store.Refused, store.Expired, store.Withdrawn, store.Unknown}
)

// collect returns the metrics as they are now. What cannot be read has no metric.
func (r *records) collect() *metrics.Set {
	r.mu.Lock()
	defer r.mu.Unlock()
	set := metrics.NewSet()
	gauge := func(f family, v float64, labels ...string) { set.NewGauge(f.series(labels...), nil).Set(v) }
	now := r.o.Clock.Now()
	if since := now.Sub(r.readAt); r.readAt.IsZero() || since >= readEvery || since < 0 {
		r.read(now)
	}
	gauge(familyDetached, oneIf(r.o.Store.CheckFile() != nil))
	if r.o.BackupShrunken != nil {
		gauge(familyShrunken, oneIf(r.o.BackupShrunken()))
	}
	set.NewCounter(familyFailed.series()).Set(uint64(r.failed))
	if !r.goodAt.IsZero() {
		gauge(familyStatsAt, float64(r.goodAt.Unix()))
		gauge(familyGrowers, float64(r.stats.Growers))
		gauge(familyStopped, float64(r.stats.Stopped))
		gauge(familyPlots, float64(r.stats.OpenPlots))
		gauge(familyDue, float64(r.stats.DuePlots))
		gauge(familyLate, r.late.Seconds())
		gauge(familySessions, float64(r.stats.Sessions))
		gauge(familyAlone, float64(r.stats.LeftAlone))
		for _, s := range append(ended, waiting...) {
			gauge(familyOutbox, float64(r.stats.Outbox[s]), string(s))
		}
		for _, s := range waiting {
			age := 0.0
			if oldest := r.stats.Oldest[s]; oldest > 0 {
				age = max(0, float64(r.goodAt.Unix()-oldest))
			}
			gauge(familyWaiting, age, string(s))
		}
	}
	r.disks(gauge)
	r.money(gauge)
	return set
}

// read counts the records. If reading fails, the counts of the last successful read stay.
func (r *records) read(now time.Time) {
	r.readAt = now
	ctx, cancel := context.WithTimeout(context.Background(), readTimeout)
	defer cancel()
	var st store.Stats
	oldest := now.Unix()
	err := r.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		if st, err = tx.Stats(now.Unix()); err != nil {
			return err
		}
		behind, err := tx.OverduePlaces(now.Unix())
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

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

type gaugeFunc func(f family, v float64, labels ...string)

func (r *records) disks(gauge gaugeFunc) {
	if r.o.DB != "" {
		for file, d := range map[string]family{r.o.DB: familyDB, r.o.DB + "-wal": familyWAL} {
			if info, err := os.Stat(file); err == nil {
				gauge(d, float64(info.Size()))
			}
		}
	}
	for _, d := range r.o.Disks {
		if free, total, ok := DiskSpace(d.Path); ok {
			gauge(familyFree, float64(free), d.Name)
			gauge(familyTotal, float64(total), d.Name)
		}
	}
}

func (r *records) money(gauge gaugeFunc) {
	if r.o.OperatorHold != nil {
		gauge(familyHold, oneIf(r.o.OperatorHold()))
	}
	if r.o.Spend == nil {
		return
	}
	rows, err := r.o.Spend()
	if err != nil {
		r.failed++
		return
	}
	sums := map[string]SpendRow{}
	for _, row := range rows { // networks that are no longer configured are added up as "unknown"
		name := known(row.Gateway, *r.gateways.Load())
		sum := sums[name]
		sums[name] = SpendRow{name, sum.Today + row.Today, sum.Month + row.Month}
	}
	for name, row := range sums {
		gauge(familyToday, float64(row.Today)/1e6, name)
		gauge(familyMonth, float64(row.Month)/1e6, name)
	}
}
