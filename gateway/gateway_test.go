package gateway_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"

	"rowbell/gateway"
	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store/testrun"
)

// Every route except the health checks requires the bearer token of the network that the route's path names.
func TestEveryRouteIsGuarded(t *testing.T) {
	h := open(t, func(o *gateway.Options) {
		other := profile.Default("other")
		other.Token = profile.HashToken("other-token")
		closed := profile.Default("closed") // a network with no token set, and not Open, must refuse every caller
		o.Networks = append(o.Networks, other, closed)
	})
	probes := map[string]bool{"/healthz": true, "/readyz": true}
	guarded := 0
	err := chi.Walk(h.g, func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if probes[route] {
			return nil
		}
		guarded++
		for _, tt := range []struct {
			network, authorization string
			want                   int
		}{
			{"local", "", 401},
			{"local", "Bearer wrong", 401},
			{"local", "Bearer other-token", 401},
			{"local", "Basic " + token, 401},
			{"closed", "Bearer ", 401},
			{"closed", "", 401},
			{"nobody", "Bearer " + token, 404},
			{"other", "Bearer other-token", 400}, // the caller is authenticated, but the body is empty
		} {
			path := strings.Replace(route, "{gateway}", tt.network, 1)
			r := httptest.NewRequest(method, path, strings.NewReader("{}"))
			r.Header.Set("Content-Type", "application/json")
			r.Header.Set("Authorization", tt.authorization)
			r.RemoteAddr = "127.0.0.1:9" // a request from this machine needs a token too
			w := httptest.NewRecorder()
			h.g.ServeHTTP(w, r)
			if w.Code != tt.want {
				t.Errorf("%s %s with %q: %d, want %d", method, path, tt.authorization, w.Code, tt.want)
			}
			if challenge := w.Header().Get("WWW-Authenticate"); (challenge != "") != (tt.want == 401) {
				t.Errorf("%s: %d with the challenge %q", path, w.Code, challenge)
			}
		}
		return nil
	})
	if err != nil || guarded != 3 {
		t.Errorf("%d guarded routes (%v), want 3", guarded, err)
	}
	h.steps()
}

// A network whose profile is Open accepts calls without a token, but only from this machine.
func TestOpen(t *testing.T) {
	h := open(t, func(o *gateway.Options) {
		p := profile.Default("local")
		p.Open = true
		o.Networks = []profile.Profile{p}
	})
	for remote, want := range map[string]int{"127.0.0.1:9": 200, "[::1]:9": 200, "192.0.2.1:9": 401, "": 401} {
		w := h.post("/in/local/ussd", call(m{"event": "begin"}), func(r *http.Request) {
			r.Header.Del("Authorization")
			r.RemoteAddr = remote
		})
		if w.Code != want {
			t.Errorf("from %q: %d, want %d", remote, w.Code, want)
		}
	}
	// A forwarding header shows that a proxy on this machine passed the call on. The caller may be on another machine,
	// so the call is refused, whatever address the header contains.
	for _, name := range []string{"X-Forwarded-For", "Forwarded", "X-Real-IP", "Via"} {
		for _, value := range []string{"127.0.0.1", "192.0.2.1", ""} {
			w := h.post("/in/local/ussd", call(m{"event": "begin"}), func(r *http.Request) {
				r.Header.Del("Authorization")
				r.Header.Set(name, value)
				r.RemoteAddr = "127.0.0.1:9"
			})
			if w.Code != 401 {
				t.Errorf("%s: %q: %d, want 401", name, value, w.Code)
			}
		}
	}
}

func TestLoopback(t *testing.T) {
	guarded := gateway.Loopback(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(http.StatusNoContent)
	}))
	for remote, want := range map[string]int{"127.0.0.1:9": 204, "[::1]:9": 204, "192.0.2.1:9": 403, "nonsense": 403} {
		r := httptest.NewRequest(http.MethodPost, "/x", nil)
		r.RemoteAddr = remote
		w := httptest.NewRecorder()
		guarded.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("from %q: %d, want %d", remote, w.Code, want)
		}
	}
}

func TestPaths(t *testing.T) {
	h := open(t)
	h.g.Get("/more/{what}", func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, chi.URLParam(r, "what")) })
	for _, tt := range []struct {
		method, path string
		want         int
		allow, body  string
	}{
		{"GET", "/healthz", 200, "", "ok\n"},
		{"GET", "/readyz", 200, "", "ready\nrecords: ok\nbell: ok\nclock: ok\nplaces: ok\n"},
		{"GET", "/more/hello", 200, "", "hello"},
		{"GET", "/", 404, "", ""},
		{"GET", "/in/local", 404, "", ""},
		{"POST", "/in/local/other", 404, "", ""},
		{"GET", "/in/local/ussd", 405, "POST", ""},
		{"DELETE", "/healthz", 405, "GET", ""},
	} {
		w := httptest.NewRecorder()
		h.g.ServeHTTP(w, httptest.NewRequest(tt.method, tt.path, nil))
		if w.Code != tt.want || w.Header().Get("Allow") != tt.allow || tt.body != "" && w.Body.String() != tt.body {
			t.Errorf("%s %s: %d, Allow %q, %s", tt.method, tt.path, w.Code, w.Header().Get("Allow"), w.Body)
		}
		if tt.want >= 400 && w.Header().Get("Content-Type") != problem.MediaType {
			t.Errorf("%s %s: content type %q", tt.method, tt.path, w.Header().Get("Content-Type"))
		}
		if w.Header().Get("X-Content-Type-Options") != "nosniff" || w.Header().Get("Cache-Control") != "no-store" {
			t.Errorf("%s %s: headers %v", tt.method, tt.path, w.Header())
		}
	}
}

func TestStoreGone(t *testing.T) {
	h := open(t)
	h.store.Close()
	for path, w := range map[string]*httptest.ResponseRecorder{
		"ussd":    h.post("/in/local/ussd", call(nil)),
		"sms":     h.post("/in/local/sms", m{"id": "t1", "phone": phone.E164(), "text": "hello"}),
		"receipt": h.post("/in/local/receipt", m{"id": "k1", "state": "delivered"}),
	} {
		if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") != "5" {
			t.Errorf("%s: %d, Retry-After %q", path, w.Code, w.Header().Get("Retry-After"))
		}
	}
	w := h.get("/readyz")
	if w.Code != 503 || !strings.HasPrefix(w.Body.String(), "not ready\nrecords: they cannot be read: ") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	h.wants(200, h.get("/healthz"))
}

// The log contains the route and the status of each request, but never a phone number, an entry or an id that
// the caller sent.
func TestLog(t *testing.T) {
	h := open(t)
	h.g.Post("/broken", func(http.ResponseWriter, *http.Request) { panic("words of a grower") })
	mine := header("X-Request-Id", "chosen-by-the-caller")
	h.post("/in/local/ussd?phone=%2B447700900123&token=river-stone",
		call(m{"event": "begin", "entry": "secret words", "dialled": "*123*77#"}), mine)
	h.post("/in/local/ussd", call(m{"entry": "secret words"}))
	h.post("/in/local/ussd", call(m{"entry": "fail"}))
	h.post("/in/local/ussd", call(m{"entry": "panic"}))
	h.post("/in/local/ussd", call(m{"phone": "+447700900123 secret"}))
	h.post("/in/secret/sms", m{})
	h.post("/in/local/sms", m{"id": "secret-id", "phone": phone.E164(), "text": "secret words"})
	h.post("/in/local/receipt", m{"id": "secret-id", "state": "delivered", "reason": "secret reason"})
	h.post("/secret/+447700900123", "")
	w := h.post("/broken", "")
	if !strings.Contains(w.Body.String(), "urn:rowbell:request:"+w.Header().Get("X-Request-Id")) {
		t.Errorf("no instance in %s", w.Body)
	}
	h.post("/in/local/sms", m{}, func(r *http.Request) { r.Method = "SECRET" })
	log := h.log.String()
	for _, word := range []string{"7700900123", "secret", "SECRET", "river-stone", "chosen-by", "words", "*123"} {
		if strings.Contains(testrun.WithoutChance(log), word) {
			t.Errorf("%q is in the log", word)
		}
	}
	type entry struct {
		Message, Request, Method, Route, Gateway string
		Status, Bytes                            int
		MS                                       *int
	}
	ids := map[string]bool{}
	var lines []string
	for line := range strings.Lines(log) {
		var e entry
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if e.Message != "request" {
			continue
		}
		if e.MS == nil || ids[e.Request] || e.Request == "" {
			t.Errorf("line %s", line)
		}
		ids[e.Request] = true
		lines = append(lines, strings.TrimSpace(fmt.Sprint(e.Method, " ", e.Route, " ", e.Status, " ", e.Gateway)))
	}
	want := []string{
		"POST /in/{gateway}/ussd 200 local", "POST /in/{gateway}/ussd 200 local", "POST /in/{gateway}/ussd 503 local",
		"POST /in/{gateway}/ussd 500 local", "POST /in/{gateway}/ussd 400 local", "POST /in/{gateway}/sms 404",
		"POST /in/{gateway}/sms 202 local", "POST /in/{gateway}/receipt 204 local", "POST none 404", "POST /broken 500",
		"other none 405",
	}
	if strings.Join(lines, "\n") != strings.Join(want, "\n") {
		t.Errorf("log lines\n%s\nwant\n%s", strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
	if t.Failed() {
		t.Log(log)
	}
}

func TestNewRefuses(t *testing.T) {
	h := open(t)
	good := gateway.Options{Store: h.store, Menu: h.menu, Clock: h.clock, Health: gateway.Health{QuietHour: 20}}
	for _, tt := range []struct {
		name     string
		networks []profile.Profile
		want     string
	}{
		{"none", nil, "no network"},
		{"twice", []profile.Profile{profile.Default("local"), profile.Default("local")}, "two networks"},
		{"bad name", []profile.Profile{profile.Default("Local")}, "network name"},
	} {
		o := good
		o.Networks = tt.networks
		if _, err := gateway.New(o); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
}

// NewServer sets these timeouts and this address. TestSlowCallers checks that the timeouts disconnect slow callers.
func TestNewServer(t *testing.T) {
	s := gateway.NewServer("127.0.0.1:0", open(t).g)
	timeouts := fmt.Sprint(s.ReadHeaderTimeout, s.ReadTimeout, s.WriteTimeout, s.IdleTimeout)
	if timeouts != "5s 10s 15s 1m0s" || s.Addr != "127.0.0.1:0" {
		t.Errorf("timeouts %s, address %s", timeouts, s.Addr)
	}
}
