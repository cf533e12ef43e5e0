package gateway_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/meter"
	"rowbell/store"
	"rowbell/store/testrun"
)

func (h *fixture) get(path string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for _, c := range change {
		c(r)
	}
	w := httptest.NewRecorder()
	h.g.ServeHTTP(w, r)
	return w
}

// readyz checks the status of /readyz and the line of the check with this name. All other checks must pass, and the
// JSON response must say the same.
func (h *fixture) readyz(status int, name, line string) {
	h.t.Helper()
	w := h.get("/readyz")
	if w.Code != status || !strings.Contains(w.Body.String(), "\n"+name+": "+line) {
		h.t.Errorf("%d\n%s\nwant %d and %s: %s", w.Code, w.Body, status, name, line)
	}
	if (w.Header().Get("Retry-After") != "") != (status == 503) {
		h.t.Errorf("%d with Retry-After %q", w.Code, w.Header().Get("Retry-After"))
	}
	if strings.Contains(w.Body.String(), "/") || strings.Contains(w.Body.String(), ".db") {
		h.t.Errorf("a path in the response: %s", w.Body)
	}
	var got struct {
		Ready  bool
		Checks []struct {
			Name, Reason string
			OK           bool
		}
	}
	w = h.get("/readyz", header("Accept", "application/json"))
	err, contentType := json.Unmarshal(w.Body.Bytes(), &got), w.Header().Get("Content-Type")
	if err != nil || got.Ready != (status == 200) || w.Code != status || contentType != "application/json" {
		h.t.Fatalf("%d %s: %v", w.Code, w.Body, err)
	}
	for _, c := range got.Checks {
		if c.Name == name && (c.OK != (line == "ok") || !c.OK && !strings.HasPrefix(c.Reason, line)) {
			h.t.Errorf("%+v", c)
		}
		if c.Name != name && !c.OK {
			h.t.Errorf("%+v", c)
		}
	}
}

// plot registers a plot at the default place, and makes it due at the instant due.
func (h *fixture) plot(due time.Time) {
	h.t.Helper()
	h.ledger(phone, func(l *store.Ledger) error { return register(l, "", 9) })
	h.write(func(tx *store.Tx) error {
		_, err := tx.WriteRounds(0, []store.Round{{Looks: []store.NextLook{{PlotID: 1, At: due.Unix()}}}})
		return err
	})
}

func TestReadyBell(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.readyz(200, "bell", "ok")
	h.plot(morning.Add(time.Hour)) // the plot is due at seven
	for _, c := range []struct {
		hour  int
		waits string // text that the failed check must contain; "" = the check must pass
	}{
		{7, ""}, {8, ""}, {9, "2 hours"}, {19, "12 hours"}, {20, ""}, {24 + 6, ""}, {24 + 7, "24 hours"},
		{5*24 + 7, "5 days"},
	} {
		h.clock.Set(morning.Add(time.Duration(c.hour-6) * time.Hour))
		if c.waits == "" {
			h.readyz(200, "bell", "ok")
		} else {
			h.readyz(503, "bell", "a plot that is due has waited "+c.waits)
		}
	}
	// A service that has just started has two hours to look at the plots that became due before. Until then the check
	// passes.
	h = open(t)
	h.plot(morning.Add(-48 * time.Hour))
	h.clock.Set(morning.Add(119 * time.Minute))
	h.readyz(200, "bell", "ok")
	h.clock.Set(morning.Add(2 * time.Hour))
	h.readyz(503, "bell", "a plot that is due has waited 2 days")
}

func TestReadyClock(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "dialled": "*123#", "step": 0}, "Home *123#", true)
	h.readyz(200, "clock", "ok")
	h.clock.Set(morning.Add(-5 * time.Minute))
	h.readyz(200, "clock", "ok") // the check allows so small a correction by a time server
	h.clock.Set(morning.Add(-6 * time.Minute))
	h.readyz(503, "clock", "it is 6 minutes behind the newest entry of the records: set it")
	h.clock.Set(morning.Add(time.Minute))
	h.readyz(200, "clock", "ok")
}

func TestReadyPlaces(t *testing.T) {
	h := open(t)
	h.readyz(200, "places", "ok")
	// This place has a time zone that this machine does not know.
	must(h.database().Exec(`INSERT INTO place (name, zone, latitude, elevation_m, normals)
		SELECT 'valley', 'Nowhere/Valley', latitude, elevation_m, normals FROM place`))
	h.readyz(503, "places", "the time zone or another value of a place cannot be used")
}

func TestReadyBackup(t *testing.T) {
	newest, failing := time.Time{}, error(nil)
	h := open(t, func(o *gateway.Options) {
		o.Health.Backup = func() (time.Time, error) { return newest, failing }
	})
	h.readyz(200, "backup", "ok") // the service has just started, so a missing backup is accepted
	h.clock.Advance(72 * time.Hour)
	h.readyz(200, "backup", "ok")
	h.clock.Advance(time.Minute)
	h.readyz(503, "backup", "none was made in the 3 days since the start")
	newest = morning.Add(time.Hour)
	h.readyz(200, "backup", "ok")
	h.clock.Advance(24 * time.Hour)
	h.readyz(503, "backup", "the newest is 3 days old")
	failing = errors.New("open /srv/backups: no")
	h.readyz(503, "backup", "the folder of the backups cannot be read")
}

func TestReadyDisk(t *testing.T) {
	dir := t.TempDir()
	if _, _, ok := meter.DiskSpace(dir); !ok {
		t.Skip("the room of a disk cannot be told here")
	}
	h := open(t, func(o *gateway.Options) {
		o.Health.Disks = []meter.Disk{
			{Name: "records", Path: dir}, {Name: "backups", Path: filepath.Join(dir, "not-there")},
		}
	})
	h.readyz(200, "disk of the records", "ok")
	h.readyz(200, "disk of the backups", "ok") // the free space of a missing folder is unknown, which the check accepts
}

// Notes for the operator do not make the service unready.
func TestReadyNotes(t *testing.T) {
	h := open(t, func(o *gateway.Options) {
		o.Health.Notes = func() []string { return []string{"texts are held back"} }
	})
	h.readyz(200, "note", "texts are held back\n")
}

// A panic in a check makes the service unready, but the process continues.
func TestReadyPanic(t *testing.T) {
	h := open(t, func(o *gateway.Options) {
		o.Health.Notes = func() []string { panic("words of a grower") }
	})
	if w := h.get("/readyz"); w.Code != 503 || strings.Contains(h.log.String()+w.Body.String(), "words") {
		t.Errorf("%d %s\n%s", w.Code, w.Body, h.log)
	}
}

// Requests to /readyz that arrive at the same time are all answered, although they may share one run of the checks.
func TestReadyManyAtOnce(t *testing.T) {
	h := open(t)
	var asking sync.WaitGroup
	for range 50 {
		asking.Go(func() {
			h.wants(200, h.get("/readyz"))
		})
	}
	asking.Wait()
}

// withMeter gives a fixture a meter, and two address ranges that may read /metrics.
func withMeter(o *gateway.Options) {
	o.Meter = meter.New(meter.Options{Clock: o.Clock, Store: o.Store, Gateways: []string{"local"}})
	o.Watch = []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("2001:db8::/32")}
}

func TestMetricsAreRead(t *testing.T) {
	h := open(t, withMeter, func(o *gateway.Options) {
		o.Proxy = gateway.Proxy{Trusted: []netip.Prefix{netip.MustParsePrefix("10.3.4.5/32")}, Header: "X-Caller"}
	})
	for _, c := range []struct {
		from, header string
		want         int
	}{
		{"127.0.0.1:9", "", 200}, {"[::1]:9", "", 200}, {"10.3.4.5:9", "", 200}, {"[::ffff:10.3.4.5]:9", "", 200},
		{"[2001:db8::7]:9", "", 200},
		{"192.0.2.1:9", "", 403}, {"[2001:db9::7]:9", "", 403}, {"", "", 403}, {"10.0.0.1", "", 403},
		// A request that came through a proxy is refused even if the proxy's address is allowed, because anybody may
		// have sent the request to the proxy.
		{"127.0.0.1:9", "X-Forwarded-For", 403}, {"10.3.4.5:9", "Forwarded", 403}, {"10.3.4.5:9", "X-Real-IP", 403},
		{"10.3.4.5:9", "Via", 403}, {"10.3.4.5:9", "X-Forwarded-Host", 403}, {"10.3.4.5:9", "X-Caller", 403},
		{"127.0.0.1:9", "X-Caller", 403},
	} {
		w := h.get("/metrics", func(r *http.Request) {
			r.RemoteAddr = c.from
			if c.header != "" {
				r.Header.Set(c.header, "127.0.0.1")
			}
		})
		if w.Code != c.want || (c.want == 200) != strings.Contains(w.Body.String(), "rowbell_growers") {
			t.Errorf("from %q with %q: %d, want %d", c.from, c.header, w.Code, c.want)
		}
	}
	h.wants(404, open(t).get("/metrics", func(r *http.Request) { r.RemoteAddr = "127.0.0.1:9" }))
}

// A transaction of the records may run again. A text that gets no answer is then counted once, and the beginning of a
// pause is logged once.
func TestUnansweredTextIsCountedOnce(t *testing.T) {
	h := open(t, func(o *gateway.Options) {
		o.Store = must(store.Open(t.Context(), testrun.Records(t, makeRecords), store.Options{RunTwice: true}))
		t.Cleanup(func() { o.Store.Close() })
		o.Loops = gateway.Loops{Texts: 2, Pause: time.Hour, Longest: time.Hour}
		withMeter(o)
	})
	for _, text := range []string{"good morning", "how do you do", "what a day"} {
		h.sms("id of "+text, text)
	}
	metrics := h.get("/metrics", func(r *http.Request) { r.RemoteAddr = "127.0.0.1:9" }).Body.String()
	line := `rowbell_texts_not_answered_total{gateway="local",reason="paused"} 1`
	pauses := strings.Count(h.log.String(), "a number is left alone for a while")
	if pauses != 1 || !strings.Contains(metrics, "\n"+line+"\n") {
		t.Errorf("%d pauses in the log, want 1; in the metrics there must be %s:\n%s", pauses, line, metrics)
	}
}

// The metrics count each callback once, by network, kind and outcome.
func TestCallsAreCounted(t *testing.T) {
	h := open(t, withMeter)
	begin := m{"event": "begin", "dialled": "*123#", "step": 0}
	h.post("/in/local/ussd", call(begin))
	h.post("/in/local/ussd", call(begin))
	h.post("/in/local/ussd", call(m{"entry": "fail"}))
	h.post("/in/local/ussd", call(m{"entry": "panic"}))
	h.post("/in/local/ussd", m{})
	h.post("/in/local/ussd", m{}, header("Authorization", "Bearer wrong"))
	h.sms("t1", "hello")
	h.sms("t1", "hello")
	h.post("/in/local/receipt", m{"id": "none", "state": "delivered"})
	h.post("/in/"+phone.E164()+"/ussd", call(begin))
	h.get("/in/local/ussd")
	h.get("/readyz")
	got := h.get("/metrics", func(r *http.Request) { r.RemoteAddr = "127.0.0.1:9" }).Body.String()
	for _, c := range []struct {
		kind, outcome string
		n             int
	}{
		{"ussd", "ok", 1}, {"ussd", "repeat", 1}, {"ussd", "failed", 2}, {"ussd", "denied", 1}, {"ussd", "limited", 0},
		{"sms", "ok", 1}, {"sms", "repeat", 1}, {"sms", "failed", 0}, {"receipt", "ok", 1},
	} {
		line := fmt.Sprintf(`rowbell_callbacks_total{gateway="local",kind=%q,outcome=%q} %d`, c.kind, c.outcome, c.n)
		if !strings.Contains(got, "\n"+line+"\n") {
			t.Errorf("no line %s", line)
		}
	}
	for _, line := range []string{
		`rowbell_callbacks_total{gateway="unknown",kind="ussd",outcome="refused"} 1`,
		`rowbell_callback_duration_seconds_count{gateway="local",kind="sms"} 2`,
		`rowbell_receipts_total{gateway="local",outcome="stray",state="delivered"} 1`,
		`rowbell_sessions_open 1`,
	} {
		if !strings.Contains(got, "\n"+line+"\n") {
			t.Errorf("no line %s", line)
		}
	}
	if strings.Contains(testrun.WithoutChance(got), "7700900") {
		t.Error("a number is in the metrics")
	}
}
