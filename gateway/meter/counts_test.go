package meter_test

import (
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3" // fills the records faster than package store would

	"rowbell/engine"
	"rowbell/gateway/meter"
	"rowbell/store"
)

// fill adds a thousand growers and many texts, of which one waits and all others were delivered.
func (h *fixture) fill(t *testing.T, path string, texts int) {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	at := h.clock.Now().Unix()
	for _, query := range []string{
		`WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 999 AND i < $1)
		INSERT INTO grower (phone, language, place_id, consent_at, consent_text, consent_channel, created_at, seen_at)
		SELECT '+' || (447700900000 + i), 'en', 1, $2, '1', 'ussd', $2, $2 FROM n`,
		`WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < $1)
		INSERT INTO message (key, phone, kind, body, created_at, due_at, useful_until, state, tries,
			accepted_at, ended_at)
		SELECT 'k' || i, '+' || (447700900000 + i % 1000), 'open', 'hello', $2, $2, $2 + 60, 'delivered', 1, $2, $2
		FROM n`,
		`UPDATE message SET state = 'queued', claim_at = $2, accepted_at = NULL, ended_at = NULL
		WHERE id = 1 AND id <= $1`,
	} {
		if _, err := db.ExecContext(t.Context(), query, texts, at); err != nil {
			t.Fatal(err)
		}
	}
}

// Of many rows a scrape counts only some pages. Until all are counted, totals that are not known have no metric, so
// that nobody takes a 0 for a count. A program that starts again knows the totals at once.
func TestManyRowsAreCountedInPages(t *testing.T) {
	var o meter.Options
	h := open(t, func(all *meter.Options) { o = *all })
	const texts = 60_000
	h.fill(t, o.DB, texts)
	first := h.scrape(t)
	for _, line := range []string{`rowbell_outbox_messages{state="queued"} 1`, "rowbell_plots_due 0",
		"rowbell_records_read_failures_total 0"} {
		if !strings.Contains(first, "\n"+line+"\n") {
			t.Errorf("the first page has no line %s", line)
		}
	}
	for _, name := range []string{"rowbell_growers", "rowbell_plots_open", `rowbell_outbox_messages{state="delivered"}`,
		"rowbell_records_counted_timestamp_seconds"} {
		if strings.Contains(first, "\n"+name+" ") {
			t.Errorf("the first page has %s already", name)
		}
	}
	const pages = texts/2000 + 2
	for calls := 0; !strings.Contains(h.scrape(t), "\nrowbell_growers 1000\n"); calls++ {
		h.clock.Advance(meter.CountEvery)
		h.Count(t.Context())
		if calls > pages {
			t.Fatal("the count does not end")
		}
	}
	h.wants(t, `rowbell_outbox_messages{state="delivered"} 59999`)
	h.Count(t.Context()) // stores the totals
	again := &fixture{Meter: meter.New(o), clock: h.clock, store: h.store}
	again.wants(t, "rowbell_growers 1000", "rowbell_circles 0", "rowbell_circle_members 0",
		"rowbell_circle_questions_open 0",
		`rowbell_outbox_messages{state="delivered"} 59999`,
		`rowbell_outbox_messages{state="queued"} 1`, "rowbell_records_counted_timestamp_seconds 1780293600")
}

// A few thousand rows are counted every thirty seconds, many rows less often.
func TestManyRowsAreCountedLessOften(t *testing.T) {
	var o meter.Options
	h := open(t, func(all *meter.Options) { o = *all })
	h.fill(t, o.DB, 120_000)
	count := func() {
		h.scrape(t)
		for range 100 {
			h.Count(t.Context())
		}
	}
	count()
	h.wants(t, "rowbell_records_counted_timestamp_seconds 1780293600")
	h.clock.Advance(30 * time.Second) // 121,000 rows at 3,000 a second are 40 s
	count()
	h.wants(t, "rowbell_records_counted_timestamp_seconds 1780293600",
		"rowbell_records_read_timestamp_seconds 1780293630")
	h.clock.Advance(30 * time.Second)
	count()
	h.wants(t, "rowbell_records_counted_timestamp_seconds 1780293660")
}

// A count that cannot go on is given up: it fails once, not at each call of Count.
func TestFailedCountIsGivenUp(t *testing.T) {
	var o meter.Options
	h := open(t, func(all *meter.Options) { o = *all })
	h.fill(t, o.DB, 60_000)
	h.scrape(t)
	h.store.Close()
	for range 3 {
		h.Count(t.Context())
	}
	h.wants(t, "rowbell_records_read_failures_total 1")
}

// The metrics have the number of due plots, and for how long the one that waits longest has been due.
func TestOldestDuePlot(t *testing.T) {
	h := open(t)
	for n := range 3 {
		if err := h.store.InTx(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))), h.clock.Now().Unix())
			if err == nil {
				err = l.Consent("en", "1", "ussd")
			}
			if err == nil {
				_, err = l.AddPlot(engine.Plot{
					Method: engine.Transplanted, Planted: l.Today() - 5, RowSpacingCM: 20, HillSpacingCM: 20,
				}, engine.Tool{WidthCM: 15})
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		h.clock.Advance(time.Hour)
	}
	h.wants(t, "rowbell_plots_due 3", "rowbell_plots_due_oldest_seconds 10800")
}
