package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// TestNoRemindersByNight: the network is down from the morning on and back at
// two at night. Nothing goes out until the next morning, and then what is true
// then, once.
func TestNoRemindersByNight(t *testing.T) {
	morning := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	clk := clock.New(morning.Add(-time.Hour))
	down := true
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
		sent = append(sent, clk.Now().Format("02 15:04 ")+out.Text)
		w.WriteHeader(http.StatusAccepted)
	}))
	defer network.Close()
	c := config.Default()
	c.DB = filepath.Join(t.TempDir(), "rowbell.db")
	p := c.Local(network.URL)
	p.Token = profile.HashToken("x")
	s, err := startService(t.Context(), c, []profile.Profile{p}, clk, zerolog.Nop())
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	register := func(phone store.Phone, ago engine.Day) {
		t.Helper()
		if err := s.store.InTx(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(phone, clk.Now().Unix())
			if err != nil {
				return err
			}
			if err := l.Consent("en", "1", "ussd"); err != nil {
				return err
			}
			_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: l.Today() - ago, RowSpacingCM: 20, HillSpacingCM: 20}, engine.Tool{WidthCM: 15})
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	until := func(at time.Time) {
		t.Helper()
		for clk.Now().Before(at) {
			clk.Advance(10 * time.Minute)
			if err := s.settle(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	register("+447700900001", 19)
	until(morning.Add(19*time.Hour - 10*time.Minute)) // ten to two
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

// TestTokenIsShownWhereItListens: where the address is taken no token is made
// that nobody gets to see.
func TestTokenIsShownWhereItListens(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	db := filepath.Join(t.TempDir(), "rowbell.db")
	code, out, errs := command("serve", "--db", db, "--listen", taken.Addr().String())
	if code != 1 || !strings.Contains(errs, "--listen") || out != "" {
		t.Errorf("%d, %q, %q", code, out, errs)
	}
	if _, err := os.Stat(db); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("records were made: %v", err)
	}
}

// TestTokenIsKept: it is made once, and the one of the next start is the same.
func TestTokenIsKept(t *testing.T) {
	c := config.Default()
	c.DB = filepath.Join(t.TempDir(), "rowbell.db")
	token := ""
	for start := range 2 {
		s, err := startService(t.Context(), c, []profile.Profile{c.Local("")}, clock.New(time.Unix(0, 0)), zerolog.Nop())
		if err != nil {
			t.Fatal(err)
		}
		if (s.token != "") != (start == 0) {
			t.Errorf("start %d: token %q", start, s.token)
		}
		token += s.token
		r := httptest.NewRequest(http.MethodPost, "/in/local/receipt", strings.NewReader(`{"id":"x","state":"delivered"}`))
		r.Header.Set("Authorization", "Bearer "+token)
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, r)
		if w.Code != http.StatusNoContent {
			t.Errorf("start %d: %d %s", start, w.Code, w.Body)
		}
		if err := s.close(); err != nil {
			t.Error(err)
		}
	}
}

// TestMorningOfTheRecords: the place that is kept has to go with the quiet
// hour too, also where the file says nothing of its morning.
func TestMorningOfTheRecords(t *testing.T) {
	late, zone := 15, "Asia/Dhaka"
	c := config.Default()
	c.DB, c.Place = filepath.Join(t.TempDir(), "rowbell.db"), &config.Place{MorningHour: &late}
	start := func() error {
		s, err := startService(t.Context(), c, []profile.Profile{c.Local("")}, clock.New(time.Unix(0, 0)), zerolog.Nop())
		if err != nil {
			return err
		}
		return s.close()
	}
	if err := start(); err != nil {
		t.Fatal(err)
	}
	for _, place := range []*config.Place{nil, {Zone: &zone}} {
		c.QuietHour, c.Place = 14, place
		if err := start(); err == nil || !strings.Contains(err.Error(), "place.morning_hour: 15") {
			t.Errorf("place %v: %v", place, err)
		}
	}
}

// TestUpkeepEmptiesTheLog: what was erased does not stay in the write-ahead log.
func TestUpkeepEmptiesTheLog(t *testing.T) {
	c := config.Default()
	c.DB = filepath.Join(t.TempDir(), "rowbell.db")
	s, err := startService(t.Context(), c, []profile.Profile{c.Local("")}, clock.New(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)), zerolog.New(io.Discard))
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	if b, err := os.ReadFile(c.DB + "-wal"); err != nil || len(b) == 0 {
		t.Fatalf("the log is empty before: %v", err)
	}
	if err := s.upkeep(t.Context()); err != nil {
		t.Error(err)
	}
	if b, err := os.ReadFile(c.DB + "-wal"); err != nil || len(bytes.TrimSpace(b)) > 0 {
		t.Errorf("%d bytes are left in the log (%v)", len(b), err)
	}
}

func TestSystemClockIsUTC(t *testing.T) {
	if now := (systemClock{}).Now(); now.Location() != time.UTC {
		t.Errorf("it is %v", now)
	}
}

// TestTokenFromTheEnvironment: a line feed at its end, as files have it, is
// not part of it.
func TestTokenFromTheEnvironment(t *testing.T) {
	p := &process{t: t, dir: t.TempDir(), log: &lockedBuffer{}, http: &http.Client{Timeout: 30 * time.Second}}
	t.Cleanup(p.kill)
	p.token = " river-stone\n"
	p.run("serve", "--listen", "127.0.0.1:0")
	p.token = "river-stone"
	p.post("ussd", map[string]any{"phone": "+447700900001", "session": "s", "event": "begin", "dialled": "*123#"}, http.StatusOK)
	p.stop()
	if strings.Contains(p.log.String(), "river-stone") || strings.Contains(p.log.String(), "Token") {
		t.Errorf("a token is shown:\n%s", p.log.String())
	}
}

// What another place leaves out is as in the first; what is taken out of the
// file is gone at the next start.
func TestOtherPlacesFollowTheFirst(t *testing.T) {
	db := filepath.Join(t.TempDir(), "rowbell.db")
	start := func(file string) map[string]store.Place {
		t.Helper()
		c, err := config.Parse([]byte(file))
		if err != nil {
			t.Fatal(err)
		}
		c.DB = db
		s, err := startService(t.Context(), c, []profile.Profile{c.Local("")}, clock.New(time.Unix(1_800_000_000, 0)), zerolog.Nop())
		if err != nil {
			t.Fatal(err)
		}
		defer s.close()
		byName := map[string]store.Place{}
		if err := s.store.View(t.Context(), func(tx *store.Tx) error {
			list, err := tx.Places()
			for _, p := range list {
				byName[p.Name] = p
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return byName
	}
	const first = "[place]\nlatitude = 12\nsoil = \"heavy\"\n[place.prices]\ntool = 30\n[place.figures]\nHandHoursPerHa = 250\n"
	got := start(first + "[[places]]\nname = \"hills\"\nelevation_m = 900\n[[places]]\nname = \"coast\"\n[places.prices]\ntool = 44\n")
	hills, coast := got["hills"], got["coast"]
	if hills.ElevationM != 900 || hills.Latitude != 12 || hills.Soil != engine.SoilHeavy || hills.Prices.Tool != 30 || hills.Figures != got[store.DefaultPlace].Figures {
		t.Errorf("hills: %+v", hills)
	}
	if coast.Prices.Tool != 44 || coast.ElevationM != 0 || coast.Figures != hills.Figures {
		t.Errorf("coast: %+v", coast)
	}
	got = start("[place]\nlatitude = 12\n[[places]]\nname = \"hills\"\n")
	if p := got[store.DefaultPlace]; p.Prices.Tool != 0 || p.Figures != (store.Figures{}) || p.Soil != engine.SoilHeavy {
		t.Errorf("the first: %+v", p)
	}
	if hills := got["hills"]; hills.Prices.Tool != 0 || hills.Figures != (store.Figures{}) || hills.ElevationM != 0 {
		t.Errorf("hills: %+v", hills)
	}
}
