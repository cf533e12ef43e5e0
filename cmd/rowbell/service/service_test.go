package service

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	stdlog "log"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/bell"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
	"rowbell/store/testrun"
)

// started is a service under test, with its log and a clock that only the test moves.
type started struct {
	*Service
	t     *testing.T
	clock *clock.Manual
	log   *bytes.Buffer
}

// start starts a service with the networks of the configuration until the test ends. The function env looks up secrets.
func start(t *testing.T, c config.Config, at time.Time, env ...func(string) string) *started {
	t.Helper()
	return startProcess(t, c, at, "", env...)
}

// startProcess is like start, with the name of the process.
func startProcess(t *testing.T, c config.Config, at time.Time, name string, env ...func(string) string) *started {
	t.Helper()
	s := &started{t: t, clock: clock.New(at), log: &bytes.Buffer{}}
	if _, err := os.Stat(c.DB); errors.Is(err, os.ErrNotExist) && !store.OnServer(c.DB) {
		testrun.File(t, c.DB, makeRecords)
	}
	networks, err := c.Networks(append(env, func(string) string { return "" })[0])
	ok(t, err)
	s.Service, err = Start(t.Context(), c, Options{Networks: networks, Clock: s.clock, Log: zerolog.New(s.log),
		Process: name})
	ok(t, err)
	t.Cleanup(s.stop)
	return s
}

func makeRecords(address string) error {
	s, err := store.Open(context.Background(), address, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

func (s *started) stop() {
	s.t.Helper()
	if err := s.Close(); err != nil {
		s.t.Error(err)
	}
}

// records runs fn in a transaction at the clock's time.
func (s *started) records(fn func(tx *store.Tx, now int64) error) {
	s.t.Helper()
	err := s.store.InTx(s.t.Context(), func(tx *store.Tx) error { return fn(tx, s.clock.Now().Unix()) })
	ok(s.t, err)
}

// register adds a grower with a plot that was transplanted in rows, ago days before today, and the weeds that the
// grower saw on the plot.
func (s *started) register(phone store.Phone, ago engine.Day, seen ...engine.Sighting) {
	s.t.Helper()
	s.records(func(tx *store.Tx, now int64) error {
		l, err := tx.Ledger(phone, now)
		if err != nil {
			return err
		}
		if err := l.Consent("en", "1", "ussd"); err != nil {
			return err
		}
		plot := engine.Plot{Method: engine.Transplanted, Planted: l.Today() - ago, RowSpacingCM: 20, HillSpacingCM: 20}
		no, err := l.AddPlot(plot, engine.Tool{WidthCM: 15})
		for _, x := range seen {
			err = errors.Join(err, l.See(no, x))
		}
		return err
	})
}

func (s *started) places() map[string]store.Place {
	s.t.Helper()
	byName := map[string]store.Place{}
	s.records(func(tx *store.Tx, _ int64) error {
		list, err := tx.Places()
		for _, p := range list {
			byName[p.Name] = p
		}
		return err
	})
	return byName
}

func (s *started) answer(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	return w
}

const receipt = `{"id":"x","state":"delivered"}`

// call returns a request in the wire format of rowbell.
func call(path, body string) *http.Request {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	return r
}

// The network fails from the morning until 02:00 of the next day. The service sends no text during the night, and one
// text in the next morning.
func TestNoRemindersByNight(t *testing.T) {
	morning := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	down := true
	var s *started
	var sent []string
	network := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var out struct{ Text string }
		if err := json.NewDecoder(r.Body).Decode(&out); err != nil {
			t.Error(err)
		}
		if down {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		sent = append(sent, s.clock.Now().Format("02 15:04 ")+out.Text)
		w.WriteHeader(http.StatusAccepted)
	}))
	defer network.Close()
	s = start(t, configtest.Fresh(t, "push.url = \""+network.URL+"\""), morning.Add(-time.Hour))
	until := func(at time.Time) {
		t.Helper()
		for s.clock.Now().Before(at) {
			s.clock.Advance(10 * time.Minute)
			ok(t, s.Settle(t.Context()))
		}
	}
	s.register("+447700900001", 14)
	until(morning.Add(19*time.Hour - 10*time.Minute)) // 01:50, just before the network is back
	down = false
	until(morning.Add(24*time.Hour - 10*time.Minute))
	if len(sent) > 0 {
		t.Errorf("sent by night: %q", sent)
	}
	until(morning.Add(36 * time.Hour))
	if len(sent) != 1 || !strings.HasPrefix(sent[0], "26 07:") {
		t.Errorf("sent in the morning: %q, want one text", sent)
	}
}

// The first start makes the token of the gateway local and shows the token. The next start accepts the same token and
// shows none.
func TestTokenIsKept(t *testing.T) {
	c := configtest.Fresh(t, "")
	token := ""
	for n := range 2 {
		s := start(t, c, configtest.SampleTime)
		if (s.token != "") != (n == 0) {
			t.Errorf("start %d: token %q", n, s.token)
		}
		token += s.token
		r := call("/in/local/receipt", receipt)
		r.Header.Set("Authorization", "Bearer "+token)
		if w := s.answer(r); w.Code != http.StatusNoContent {
			t.Errorf("start %d: %d %s", n, w.Code, w.Body)
		}
		s.stop()
	}
}

// The first start stores the morning hour 15. If the quiet hours later begin at 14, the service does not start,
// although the file no longer contains the morning hour.
func TestMorningOfTheRecords(t *testing.T) {
	c := configtest.Fresh(t, "place.morning_hour = 15")
	start(t, c, configtest.SampleTime).stop()
	zone := "Asia/Dhaka"
	for _, place := range []*config.Place{nil, {Zone: &zone}} {
		c.QuietHour, c.Place = 14, place
		o := Options{Networks: []profile.Profile{c.Local("")}, Clock: clock.New(time.Unix(0, 0))}
		_, err := Start(t.Context(), c, o)
		if err == nil || !strings.Contains(err.Error(), "place.morning_hour: 15") {
			t.Errorf("place %v: %v", place, err)
		}
	}
}

// A key that a further place leaves out has the value of the first place. If prices or figures are deleted from the
// file, the next start deletes them from the records.
func TestOtherPlacesFollowTheFirst(t *testing.T) {
	db := filepath.Join(t.TempDir(), "rowbell.db")
	read := func(file string) map[string]store.Place {
		t.Helper()
		c := configtest.Fresh(t, file)
		c.DB = db
		s := start(t, c, configtest.SampleTime)
		defer s.stop()
		return s.places()
	}
	got := read(`[place]
latitude = 12
soil = "heavy"
prices.tool = 30
figures.HandHoursPerHa = 250
[[places]]
name = "hills"
elevation_m = 900
[[places]]
name = "coast"
prices.tool = 44
`)
	first, hills, coast := got[store.DefaultPlace], got["hills"], got["coast"]
	if hills.ElevationM != 900 || hills.Latitude != 12 || hills.Soil != engine.SoilHeavy || hills.Prices.Tool != 30 ||
		hills.Figures != first.Figures {
		t.Errorf("hills: %+v", hills)
	}
	if coast.Prices.Tool != 44 || coast.ElevationM != 0 || coast.Figures != hills.Figures {
		t.Errorf("coast: %+v", coast)
	}
	got = read("[place]\nlatitude = 12\n[[places]]\nname = \"hills\"\n")
	first, hills = got[store.DefaultPlace], got["hills"]
	if first.Prices.Tool != 0 || first.Figures != (store.Figures{}) || first.Soil != engine.SoilHeavy {
		t.Errorf("the first: %+v", first)
	}
	if hills.Prices.Tool != 0 || hills.Figures != (store.Figures{}) || hills.ElevationM != 0 {
		t.Errorf("hills: %+v", hills)
	}
}

// Only package config has default quiet hours. Bell, outbox and gateway panic if their options have no quiet hour.
func TestOnlyConfigHasADefaultQuietHour(t *testing.T) {
	c := configtest.Fresh(t, "")
	s := start(t, c, configtest.SampleTime)
	m, err := s.newMenu(c)
	ok(t, err)
	local := []profile.Profile{c.Local("")}
	for name, make := range map[string]func(){
		"bell": func() { bell.New(bell.Options{Store: s.store, Menu: m, Clock: s.clock}) },
		"outbox": func() {
			way := outlet(local[0], push.Log{})
			push.New(push.Options{Store: s.store, Clock: s.clock, Gateways: []push.Gateway{way}})
		},
		"gateway": func() {
			_, _ = gateway.New(gateway.Options{Store: s.store, Menu: m, Clock: s.clock, Networks: local})
		},
	} {
		func() {
			defer func() {
				if said := recover(); !strings.Contains(fmt.Sprint(said), "QuietHour") {
					t.Errorf("%s: %v, want a panic that names the QuietHour", name, said)
				}
			}()
			make()
		}()
	}
}

// If a text in the operator's folder takes too many SMS segments, or a choice does not fit on a USSD page, the service
// starts and logs the file, the line, the key and the command that shows more.
func TestLongTextsAreLogged(t *testing.T) {
	for file, want := range map[string]string{
		"[sms]\nlate = \"" + strings.Repeat("long ", 70) + "MENYU 3 4 {code}\"": "sw.toml:2: sms.late: text " +
			"sms.late takes 3 segments",
		"[home]\nnew = \"" + strings.Repeat("refu ", 47) + "na mwisho\"": "sw.toml:2: home.new: by ussd, screen ",
		"[sms]\nlate = \"MENYU 3 4 {code}\"":                             "",
	} {
		dir := t.TempDir()
		ok(t, os.WriteFile(filepath.Join(dir, "sw.toml"), []byte(file), 0o600))
		s := start(t, configtest.Fresh(t, "texts.folder = '"+dir+"'"), configtest.SampleTime)
		got := s.log.String()
		logged := strings.Contains(got, "needs mending; see rowbell texts --texts "+dir)
		if logged != (want != "") || !strings.Contains(got, want) {
			t.Errorf("%q: the log says %s", file, got)
		}
	}
}

// The network tern has no credentials and is known by its IP address. The service accepts this address from the
// configured proxy only, because any other machine could write a false header.
func TestAddressBehindAProxy(t *testing.T) {
	const trust = "[gateways.tern.trust]\nby = \"address\"\nfrom = [\"203.0.113.0/24\"]\n"
	const proxy = "[proxy]\ntrusted = [\"10.0.0.0/8\"]\n"
	const single = proxy + "header = \"X-Caller\"\n"
	const in, out = http.StatusNoContent, http.StatusForbidden
	for _, tt := range []struct {
		name, file, remote string
		forwarded          []string
		want               int
	}{
		{"directly", trust, "203.0.113.5:1", nil, in},
		{"from elsewhere", trust, "192.0.2.66:1", nil, out},
		{"from elsewhere with a header", trust, "192.0.2.66:1", []string{"203.0.113.5"}, out},
		{"through a proxy that nobody declared", trust, "10.0.0.1:1", []string{"203.0.113.5"}, out},
		{"through the proxy", trust + proxy, "10.0.0.1:1", []string{"203.0.113.5"}, in},
		{"around the proxy", trust + proxy, "192.0.2.66:1", []string{"203.0.113.5"}, out},
		{"directly, beside the proxy", trust + proxy, "203.0.113.5:1", nil, in},
		{"a lie that the proxy adds to", trust + proxy, "10.0.0.1:1", []string{"203.0.113.5, 192.0.2.66"}, out},
		{"a lie before the proxy's header", trust + proxy, "10.0.0.1:1", []string{"203.0.113.5", "192.0.2.66"}, out},
		{"the proxy itself", trust + proxy, "10.0.0.1:1", nil, out},
		{"garbage", trust + proxy, "10.0.0.1:1", []string{"203.0.113.5, unknown"}, out},
		{"in another header than the proxy's", trust + single, "10.0.0.1:1", []string{"203.0.113.5"}, out},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := start(t, configtest.Fresh(t, tt.file), configtest.SampleTime)
			r := call("/in/tern/receipt", receipt)
			r.Header["X-Forwarded-For"] = tt.forwarded
			r.RemoteAddr = tt.remote
			if w := s.answer(r); w.Code != tt.want {
				t.Errorf("%d %s, want %d", w.Code, w.Body, tt.want)
			}
		})
	}
}

func TestSystemClockIsUTC(t *testing.T) {
	if now := (SystemClock{}).Now(); now.Location() != time.UTC {
		t.Errorf("it is %v", now)
	}
}

// A failure to accept connections is logged as an error. The failure of a single connection is logged at debug level.
func TestServerLog(t *testing.T) {
	var log bytes.Buffer
	l := stdlog.New(serverLog{zerolog.New(&log).Level(zerolog.InfoLevel)}, "", 0)
	server := http.Server{ErrorLog: l}
	l.Print("http: TLS handshake error from 192.0.2.1:4000: EOF")
	before := log.Len()
	err := server.Serve(&fullListener{server: &server})
	if got := log.String(); !errors.Is(err, http.ErrServerClosed) || before != 0 ||
		!strings.Contains(got, `"level":"error"`) || !strings.Contains(got, "too many open files") {
		t.Errorf("%v, %d bytes before: %s", err, before, got)
	}
}

// fullListener accepts no connection, like the listener of a process with too many open files. The second call of
// Accept closes the server, because the server would retry without end.
type fullListener struct {
	server *http.Server
	asked  int
}

func (l *fullListener) Accept() (net.Conn, error) {
	if l.asked++; l.asked == 2 {
		go l.server.Close() // in a goroutine, because Close waits until this Accept returns
	}
	return nil, &net.OpError{Op: "accept", Net: "tcp", Err: os.NewSyscallError("accept4", syscall.EMFILE)}
}
func (l *fullListener) Close() error   { return nil }
func (l *fullListener) Addr() net.Addr { return &net.TCPAddr{} }

var ok = configtest.OK
