package meter_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/store"
	"rowbell/store/testrun"
)

var morning = time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)

type fixture struct {
	*meter.Meter
	clock *clock.Manual
	store *store.Store
}

// openRecords opens new records in a file until the end of the test.
func openRecords(t *testing.T, path string) *store.Store {
	t.Helper()
	testrun.File(t, path, func(path string) error {
		s, err := store.Open(context.Background(), path, store.Options{})
		if err != nil {
			return err
		}
		return s.Close()
	})
	s, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func open(t *testing.T, change ...func(*meter.Options)) *fixture {
	t.Helper()
	dir := t.TempDir()
	db := filepath.Join(dir, "rowbell.db")
	s := openRecords(t, db)
	h := &fixture{clock: clock.New(morning), store: s}
	o := meter.Options{Clock: h.clock, Store: s, Gateways: []string{"local", "heron"}, Version: "1.2", DB: db,
		Disks: []meter.Disk{{Name: "records", Path: dir}}}
	for _, c := range change {
		c(&o)
	}
	h.Meter = meter.New(o)
	return h
}

// scrape returns the body of /metrics.
func (h *fixture) scrape(t *testing.T) string {
	t.Helper()
	w := httptest.NewRecorder()
	h.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	return w.Body.String()
}

var notOurs = regexp.MustCompile(`(?m)^(# .*|go_.*|process_.*)\n`)

// wants checks that /metrics contains these lines.
func (h *fixture) wants(t *testing.T, lines ...string) {
	t.Helper()
	got := h.scrape(t)
	for _, line := range lines {
		if !strings.Contains(got, "\n"+line+"\n") {
			t.Errorf("no line %s in\n%s", line, notOurs.ReplaceAllString(got, ""))
		}
	}
}

// traffic calls each method of the Meter that counts something.
func (h *fixture) traffic() {
	h.Callback("local", "ussd", "ok", 30*time.Millisecond)
	h.Callback("local", "ussd", "repeat", time.Second)
	h.Limited("heron", "number", "calls")
	h.Pushed("heron", "taken", 200*time.Millisecond)
	h.Pushed("heron", "again", time.Second)
	h.Breaker("heron", true)
	h.Receipt("local", "delivered", "noted")
	h.Bell(90 * time.Second)
}

func TestCounts(t *testing.T) {
	h := open(t)
	h.traffic()
	h.wants(t,
		`rowbell_callbacks_total{gateway="local",kind="ussd",outcome="ok"} 1`,
		`rowbell_callbacks_total{gateway="local",kind="ussd",outcome="repeat"} 1`,
		`rowbell_callbacks_total{gateway="local",kind="ussd",outcome="failed"} 0`,
		`rowbell_callback_duration_seconds_bucket{gateway="local",kind="ussd",le="0.05"} 1`,
		`rowbell_callback_duration_seconds_bucket{gateway="local",kind="ussd",le="2"} 2`,
		`rowbell_limited_total{gateway="heron",limit="calls",scope="number"} 1`,
		`rowbell_push_tries_total{gateway="heron",outcome="taken"} 1`,
		`rowbell_push_retries_total{gateway="heron"} 1`,
		`rowbell_push_retries_total{gateway="local"} 0`,
		`rowbell_push_duration_seconds_count{gateway="heron"} 2`,
		`rowbell_breaker_open{gateway="heron"} 1`,
		`rowbell_breaker_open{gateway="local"} 0`,
		`rowbell_receipts_total{gateway="local",outcome="noted",state="delivered"} 1`,
		`rowbell_bell_lag_seconds 90`,
	)
	if got := fmt.Sprint(h.OpenBreakers()); got != "[heron]" {
		t.Errorf("open breakers: %s", got)
	}
	h.Breaker("heron", false)
	if got := h.OpenBreakers(); len(got) > 0 {
		t.Errorf("open breakers: %s", got)
	}
	build := regexp.MustCompile(`\nrowbell_build_info\{go="go1\..*,sqlite="3\..*,version="1\.2"\} 1\n`)
	if !build.MatchString(h.scrape(t)) {
		t.Error("no rowbell_build_info")
	}
}

// parsed returns the families on /metrics, as the parser of Prometheus reads them.
func (h *fixture) parsed(t *testing.T) map[string]*dto.MetricFamily {
	t.Helper()
	parser := expfmt.NewTextParser(model.LegacyValidation)
	families, err := parser.TextToMetricFamilies(strings.NewReader(h.scrape(t)))
	if err != nil {
		t.Fatal(err)
	}
	return families
}

func everyHook(o *meter.Options) {
	o.Spend = func() ([]meter.SpendRow, error) { return []meter.SpendRow{{Gateway: "local"}}, nil }
	o.OperatorHold = func() bool { return true }
	o.BackupShrunken = func() bool { return true }
}

// The names of the metrics pass the checks of Prometheus' own lint: base units, suffixes, help texts (prometheus.io,
// "Metric and label naming").
func TestNamesAreRight(t *testing.T) {
	h := open(t, everyHook)
	h.traffic()
	ours := 0
	for name, f := range h.parsed(t) {
		if !strings.HasPrefix(name, "rowbell_") {
			continue
		}
		ours++
		problems, err := promlint.NewWithMetricFamilies([]*dto.MetricFamily{f}).Lint()
		if len(problems) > 0 || err != nil {
			t.Errorf("%s: %v %v", name, problems, err)
		}
		if !strings.HasSuffix(f.GetHelp(), ".") {
			t.Errorf("%s: its help is not a sentence: %s", name, f.GetHelp())
		}
		if n := len(f.GetMetric()); n > 100 {
			t.Errorf("%s has %d series", name, n)
		}
	}
	if ours != 38 {
		t.Errorf("%d families of ours", ours)
	}
}

// The page is in the text format 0.0.4 of Prometheus ("Exposition formats"): its content type, each family in one
// block, with its type. The metrics of the Go runtime and of the process have the names of Prometheus' own libraries
// ("Writing client libraries", section "Process metrics").
func TestFormat(t *testing.T) {
	h := open(t, everyHook)
	h.traffic()
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
	r.Header.Set("Accept", "application/openmetrics-text; version=1.0.0, text/plain; version=0.0.4; q=0.5")
	h.Handler().ServeHTTP(w, r)
	if got := w.Header().Get("Content-Type"); got != "text/plain; version=0.0.4; charset=utf-8" {
		t.Errorf("content type %q", got)
	}
	families := h.parsed(t)
	for name, want := range map[string]dto.MetricType{
		"rowbell_callbacks_total":             dto.MetricType_COUNTER,
		"rowbell_callback_duration_seconds":   dto.MetricType_HISTOGRAM,
		"rowbell_breaker_open":                dto.MetricType_GAUGE,
		"rowbell_growers":                     dto.MetricType_GAUGE,
		"rowbell_records_read_failures_total": dto.MetricType_COUNTER,
		"go_goroutines":                       dto.MetricType_GAUGE,
		"process_cpu_seconds_total":           dto.MetricType_COUNTER,
		"process_resident_memory_bytes":       dto.MetricType_GAUGE,
		"process_start_time_seconds":          dto.MetricType_GAUGE,
		"process_open_fds":                    dto.MetricType_GAUGE,
	} {
		f := families[name]
		if f == nil && strings.HasPrefix(name, "process_") && runtime.GOOS != "linux" {
			continue // only Linux has all of them
		}
		if f == nil || f.GetType() != want {
			t.Errorf("%s is %v, want %s", name, f, want)
		}
	}
	took := families["rowbell_push_duration_seconds"].GetMetric()[0].GetHistogram()
	if took.GetSampleCount() != 2 || took.GetSampleSum() != 1.2 || len(took.GetBucket()) != 12 {
		t.Errorf("a histogram: %v", took)
	}
}

// A label's value may have characters that the format escapes.
func TestLabelsAreEscaped(t *testing.T) {
	const odd = "a\"b\\c\nd{e=\"f\"},g"
	h := open(t, func(o *meter.Options) { o.Gateways = []string{odd} })
	h.Pushed(odd, "again", time.Second)
	for _, name := range []string{"rowbell_push_retries_total", "rowbell_push_duration_seconds"} {
		f := h.parsed(t)[name]
		if len(f.GetMetric()) != 1 || f.GetMetric()[0].GetLabel()[0].GetValue() != odd {
			t.Errorf("%s: %v", name, f)
		}
	}
}

// slowReader is a reader who takes the page only after release is closed.
type slowReader struct {
	*httptest.ResponseRecorder
	asked   chan<- bool
	release <-chan struct{}
}

func (s slowReader) Write(b []byte) (int, error) {
	s.asked <- true
	<-s.release
	return s.ResponseRecorder.Write(b)
}

// Of three readers at once, the third is refused, because each page may count the records.
func TestReadersAtOnce(t *testing.T) {
	h := open(t).Handler()
	asked, release, codes := make(chan bool), make(chan struct{}), make(chan int)
	read := func(w http.ResponseWriter) { h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil)) }
	for range 2 {
		go func() {
			w := slowReader{httptest.NewRecorder(), asked, release}
			read(w)
			codes <- w.Code
		}()
		<-asked
	}
	third := httptest.NewRecorder()
	if read(third); third.Code != http.StatusServiceUnavailable {
		t.Errorf("the third reader got %d", third.Code)
	}
	close(release)
	for range 2 {
		if got := <-codes; got != http.StatusOK {
			t.Errorf("a reader got %d", got)
		}
	}
}

// Calls are counted, and networks change, while the page is read. The race detector watches.
func TestCountsWhileRead(t *testing.T) {
	h := open(t, everyHook)
	const rounds = 20
	var busy sync.WaitGroup
	for _, f := range []func(){h.traffic, func() { h.SetGateways([]string{"local", "heron"}) },
		func() { h.SetGateways([]string{"local"}) }} {
		busy.Go(func() {
			for range rounds {
				f()
			}
		})
	}
	for range rounds {
		h.parsed(t)
	}
	busy.Wait()
	h.wants(t, `rowbell_callbacks_total{gateway="local",kind="ussd",outcome="ok"} 20`)
}

// A value that a caller chose, such as a phone number, does not become a label of a metric. It is counted under the
// label "unknown".
func TestCallersChooseNoLabel(t *testing.T) {
	h := open(t)
	const phone = "+447700900123"
	for range 3 {
		h.Callback(phone, phone, phone, 0)
		h.Limited(phone, phone, phone)
		h.Pushed(phone, phone, 0)
		h.Breaker(phone, true)
		h.Receipt(phone, phone, phone)
	}
	if strings.Contains(testrun.WithoutChance(h.scrape(t)), "7700900") {
		t.Error("a phone number is a label")
	}
	h.wants(t, `rowbell_callbacks_total{gateway="unknown",kind="unknown",outcome="unknown"} 3`,
		`rowbell_limited_total{gateway="unknown",limit="unknown",scope="unknown"} 3`,
		`rowbell_push_tries_total{gateway="unknown",outcome="unknown"} 3`)
}

// The growers, plots and texts in the records are counted at most once in thirty seconds.
func TestRecordsAreReadEveryThirtySeconds(t *testing.T) {
	h := open(t)
	register := func(n int) {
		t.Helper()
		err := h.store.InTx(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))), h.clock.Now().Unix())
			if err != nil {
				return err
			}
			if err := l.Consent("en", "1", "ussd"); err != nil {
				return err
			}
			now := h.clock.Now()
			_, err = tx.Enqueue(store.Message{Key: fmt.Sprint(n), To: l.Phone(), Note: "reply", Text: "hello",
				DueAt: now.Unix(), UsefulUntil: now.Add(time.Hour).Unix()})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	register(1)
	h.wants(t, "rowbell_growers 1", `rowbell_outbox_messages{state="queued"} 1`,
		`rowbell_outbox_messages{state="delivered"} 0`, `rowbell_outbox_oldest_seconds{state="queued"} 0`)
	h.clock.Advance(29 * time.Second)
	register(2)
	h.wants(t, "rowbell_growers 1")
	h.clock.Advance(time.Second)
	h.wants(t, "rowbell_growers 2", `rowbell_outbox_oldest_seconds{state="queued"} 30`,
		"rowbell_records_read_failures_total 0")
	// If the records cannot be read, the last counts are still served and the failure is counted.
	h.store.Close()
	h.clock.Advance(time.Minute)
	h.wants(t, "rowbell_growers 2", "rowbell_records_read_failures_total 1")
}

func TestHooks(t *testing.T) {
	hold, broken := false, false
	h := open(t, func(o *meter.Options) {
		o.OperatorHold = func() bool { return hold }
		o.Spend = func() ([]meter.SpendRow, error) {
			if broken {
				return nil, errors.New("no")
			}
			return []meter.SpendRow{
				{"local", 1_500_000, 20_000_000}, {"gone", 1, 1_000_000}, {"gone-too", 0, 2_000_000},
			}, nil
		}
	})
	h.wants(t, "rowbell_sending_held 0", `rowbell_spend_today{gateway="local"} 1.5`,
		`rowbell_spend_month{gateway="local"} 20`, `rowbell_spend_month{gateway="unknown"} 3`)
	hold, broken = true, true
	h.wants(t, "rowbell_sending_held 1", "rowbell_records_read_failures_total 1")
}

func TestNilCountsNothing(t *testing.T) {
	for _, m := range []*meter.Meter{nil, {}} {
		(&fixture{Meter: m}).traffic()
		m.Count(t.Context())
		if got := m.OpenBreakers(); got != nil {
			t.Errorf("open breakers: %s", got)
		}
	}
}

func TestRoom(t *testing.T) {
	free, total, ok := meter.DiskSpace(t.TempDir())
	if ok && (free < 0 || total <= 0 || free > total) {
		t.Errorf("%d of %d", free, total)
	}
	if _, _, ok := meter.DiskSpace(filepath.Join(t.TempDir(), "none")); ok {
		t.Error("room where there is no folder")
	}
}

// Networks come and go while the service runs: a new one is counted from then on, the breaker of one that is gone is
// not shown any more, and what was counted stays.
func TestNetworksChange(t *testing.T) {
	m := open(t)
	m.Pushed("heron", "taken", time.Second)
	m.Breaker("heron", true)
	m.SetGateways([]string{"local", "tern"})
	m.Pushed("tern", "taken", time.Second)
	m.Pushed("heron", "taken", time.Second) // a try that had begun
	got := m.scrape(t)
	for _, want := range []string{`rowbell_push_tries_total{gateway="heron",outcome="taken"} 1`,
		`rowbell_push_tries_total{gateway="tern",outcome="taken"} 1`, `rowbell_breaker_open{gateway="tern"} 0`,
		`rowbell_push_tries_total{gateway="unknown",outcome="taken"} 1`} {
		if !strings.Contains(got, want) {
			t.Errorf("%s is missing in\n%s", want, got)
		}
	}
	if strings.Contains(got, `rowbell_breaker_open{gateway="heron"}`) || len(m.OpenBreakers()) > 0 {
		t.Errorf("a breaker of a network that is gone: %v\n%s", m.OpenBreakers(), got)
	}
}
