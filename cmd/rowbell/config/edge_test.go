package config

import (
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/gateway/limit"
)

func TestEdgeMistakesNameTheKey(t *testing.T) {
	for _, c := range []struct{ toml, want string }{
		{"[limits]\ncalls_a_minute = -1\n", "limits.calls_a_minute: -1 is below 0"},
		{"[limits]\ncalls = 1\n", "line 2, column 1: limits.calls: there is no setting of this name"},
		{"[limits]\ncalls_a_minute = 1.5\n", "limits.calls_a_minute"},
		{"[limits]\ncurrency = \"shillings\"\n", "limits.currency"},
		{"[limits]\npause = \"10s\"\n", "limits.pause: 10s is not"},
		{"[limits]\npause = 600\n", "limits.pause: 600ns is not"},
		{"[limits]\nmoney_a_day = nan\n", "limits.money_a_day"},
		{"[limits.number]\nopen_sessions = -5\n", "limits.number.open_sessions: -5"},
		{"[limits.number]\nmoney_a_month = -0.5\n", "limits.number.money_a_month: -0.5"},
		{"[limits.number]\ntexts_a_day = -1\n", "limits.number.texts_a_day"},
		{"[proxy]\ntrusted = [\"heron\"]\n", `proxy.trusted: "heron": this is neither an address`},
		{"[proxy]\ntrusted = [\"10.0.0.0/33\"]\n", "proxy.trusted"},
		{"[proxy]\ntrusted = [\"10.1.2.3/8\"]\n", "10.0.0.0/8 or 10.1.2.3 is meant"},
		{"[proxy]\ntrusted = [\"0.0.0.0/0\"]\n", "proxy.trusted: 0.0.0.0/0 is everybody"},
		{"[proxy]\ntrusted = [\"::/0\"]\n", "proxy.trusted: ::/0 is everybody"},
		{"[proxy]\ntrusted = [\"::ffff:10.0.0.1\"]\n", "proxy.trusted"},
		{"[proxy]\ntrusted = [\"fe80::1%eth0\"]\n", "proxy.trusted"},
		{"[proxy]\nheader = \"X-Caller\"\n", "proxy.trusted: say which machines"},
		{"[proxy]\ntrusted = [\"10.0.0.1\"]\nheader = \"X Caller\"\n", "proxy.header"},
		{"[proxy]\ntrusted = [\"10.0.0.1\"]\nheader = \"forwarded\"\n", "proxy.header: Forwarded is not read"},
		{"[tls]\ncert = \"a.pem\"\n", "tls.key"},
		{"[tls]\nkey = \"a.pem\"\n", "tls.cert"},
	} {
		if _, err := Parse([]byte(c.toml)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.toml, err, c.want)
		}
	}
}

func TestEdge(t *testing.T) {
	c, err := Load("")
	if err != nil || c.Limits != DefaultLimits() || c.Validate() != nil {
		t.Errorf("without a file: %+v, %v", c.Limits, err)
	}
	c, err = Parse([]byte("[limits]\nopen_sessions = 0\ntexts_a_day = 500\npause = \"5m\"\n[limits.number]\ncalls_a_minute = 20\n" +
		"[proxy]\ntrusted = [\"10.0.0.0/8\", \"fd00::1\"]\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := limit.Incoming{
		All:    limit.Set{CallsAMinute: DefaultLimits().CallsAMinute, TextsADay: 500},
		Number: limit.Set{CallsAMinute: 20, OpenSessions: DefaultLimits().Number.OpenSessions},
		Pause:  5 * time.Minute,
	}
	if got := c.Limits.Incoming(); got.All != want.All || got.Number != want.Number || got.Pause != want.Pause {
		t.Errorf("limits %+v, want %+v", got, want)
	}
	p, err := c.Proxy.Gateway()
	trusted := []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("fd00::1/128")}
	if err != nil || !slices.Equal(p.Trusted, trusted) {
		t.Errorf("proxy %v, %v", p, err)
	}
}
