package main

import (
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/clock"
)

// A network that is known by its address alone gets in through a proxy that is
// declared, and by no header that anybody could write.
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
			c, err := config.Parse([]byte(tt.file))
			if err != nil {
				t.Fatal(err)
			}
			c.DB = filepath.Join(t.TempDir(), "rowbell.db")
			networks, err := c.Networks(func(string) string { return "" })
			if err != nil {
				t.Fatal(err)
			}
			s, err := startService(t.Context(), c, networks, clock.New(sampleTime), zerolog.Nop())
			if err != nil {
				t.Fatal(err)
			}
			defer s.close()
			r := httptest.NewRequest(http.MethodPost, "/in/tern/receipt", strings.NewReader(`{"id":"x","state":"delivered"}`))
			r.Header.Set("Content-Type", "application/json")
			r.Header["X-Forwarded-For"] = tt.forwarded
			r.RemoteAddr = tt.remote
			w := httptest.NewRecorder()
			if s.handler.ServeHTTP(w, r); w.Code != tt.want {
				t.Errorf("%d %s, want %d", w.Code, w.Body, tt.want)
			}
		})
	}
}
