package meter

import (
	"os"
	"sync/atomic"
	"time"

	"github.com/VictoriaMetrics/metrics"

	"rowbell/store"
)

// records makes the metrics that come from the records. It reads file sizes and free space on each scrape.
type records struct {
	o        Options
	gateways *atomic.Pointer[[]string] // names of the networks
	counts   counts

	spendFailed atomic.Int64 // how often the costs could not be read
}

var (
	familyGrowers  = declare("rowbell_growers", "Growers with a number, also those who want no texts.")
	familyStopped  = declare("rowbell_growers_stopped", "Growers with a number who want no texts.")
	familyPlots    = declare("rowbell_plots_open", "Plots whose season is not closed.")
	familyCircles  = declare("rowbell_circles", "Circles of growers who share tools.")
	familyMembers  = declare("rowbell_circle_members", "Members of all circles.")
	familyAsks     = declare("rowbell_circle_questions_open", "Questions in circles that are not answered yet.")
	familyDue      = declare("rowbell_plots_due", "Plots that are due for the bell.")
	familyLate     = declare("rowbell_plots_due_oldest_seconds", "How long the longest waiting plot has been due.")
	familySessions = declare("rowbell_sessions_open", "Dialogues that can still be continued, on both channels.")
	familyAlone    = declare("rowbell_numbers_left_alone",
		"Numbers whose texts get no answer for a while, because a machine most likely writes them.")
	familyOutbox  = declare("rowbell_outbox_messages", "Texts in the records by their state.", "state")
	familyWaiting = declare("rowbell_outbox_oldest_seconds",
		"How long the longest waiting text of this state has been due. "+
			"A network that sends no receipts leaves its texts accepted.", "state")
	familyWaitsAt = declare("rowbell_records_read_timestamp_seconds",
		"When what waits was last counted: due plots, sessions, and texts that are queued or claimed.")
	familyTotalsAt = declare("rowbell_records_counted_timestamp_seconds",
		"When growers, open plots, circles and all other texts were last counted.")
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

// The states of texts, by the count that has them: store.Waits and store.Totals.
var (
	statesInWaits  = []store.State{store.Queued, store.Claimed}
	statesInTotals = []store.State{
		store.Accepted, store.Delivered, store.Refused, store.Expired, store.Withdrawn, store.Unknown}
)

// collect returns the metrics as they are now. What cannot be read, or was not counted yet, has no metric.
func (r *records) collect() *metrics.Set {
	set := metrics.NewSet()
	gauge := func(f family, v float64, labels ...string) { set.NewGauge(f.series(labels...), nil).Set(v) }
	seen := r.counts.scrape()
	gauge(familyDetached, oneIf(r.o.Store.CheckFile() != nil))
	if r.o.BackupShrunken != nil {
		gauge(familyShrunken, oneIf(r.o.BackupShrunken()))
	}
	if seen.waits != nil {
		gaugeWaits(gauge, *seen.waits, seen.late)
	}
	if seen.totals != nil {
		gaugeTotals(gauge, *seen.totals)
	}
	r.disks(gauge)
	failed := seen.failed + r.money(gauge)
	set.NewCounter(familyFailed.series()).Set(uint64(failed))
	return set
}

func gaugeWaits(gauge gaugeFunc, w store.Waits, late time.Duration) {
	gauge(familyWaitsAt, float64(w.At))
	gauge(familyDue, float64(w.DuePlots))
	gauge(familyLate, late.Seconds())
	gauge(familySessions, float64(w.Sessions))
	gauge(familyAlone, float64(w.LeftAlone))
	for _, state := range statesInWaits {
		texts, oldest := int64(0), w.At
		for _, x := range w.Texts {
			if x.State == state {
				texts, oldest = texts+x.Texts, min(oldest, x.OldestDue)
			}
		}
		gauge(familyOutbox, float64(texts), string(state))
		gauge(familyWaiting, float64(w.At-oldest), string(state))
	}
}

func gaugeTotals(gauge gaugeFunc, t store.Totals) {
	gauge(familyTotalsAt, float64(t.At))
	gauge(familyGrowers, float64(t.Growers))
	gauge(familyStopped, float64(t.Stopped))
	gauge(familyPlots, float64(t.OpenPlots))
	gauge(familyCircles, float64(t.Circles))
	gauge(familyMembers, float64(t.Members))
	gauge(familyAsks, float64(t.Questions))
	for _, state := range statesInTotals {
		gauge(familyOutbox, float64(t.Texts[state]), string(state))
	}
	age := 0.0
	if t.OldestAccepted > 0 {
		age = max(0, float64(t.At-t.OldestAccepted))
	}
	gauge(familyWaiting, age, string(store.Accepted))
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

// money adds the metrics of the operator hold and of the costs. It returns how often the costs could not be read.
func (r *records) money(gauge gaugeFunc) (failed int) {
	if r.o.OperatorHold != nil {
		gauge(familyHold, oneIf(r.o.OperatorHold()))
	}
	if r.o.Spend == nil {
		return 0
	}
	rows, err := r.o.Spend()
	if err != nil {
		return int(r.spendFailed.Add(1))
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
	return int(r.spendFailed.Load())
}
