package config

import (
	"fmt"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
	"rowbell/store"
)

func parse(t *testing.T, file string) Config {
	t.Helper()
	c, err := Parse([]byte(file))
	ok(t, err)
	return c
}

func TestConfigIsRead(t *testing.T) {
	c := parse(t, `
country_code = "44"
[resume]
ussd = "90m"
[push]
url = "https://gateway.example/x"
rate = 3
[keep]
texts_days = 90
growers_days = 0
[[units]]
name = "acre"
m2 = 4046.9
[watch]
allow = ["10.0.0.0/8", "2001:db8::/32", "10.0.0.7"]
[[routes]]
prefix = "+4477"
through = ["local"]
[[routes]]
through = ["local"]
`)
	if r := c.Resume; time.Duration(r.USSD) != 90*time.Minute || time.Duration(r.SMS) != 72*time.Hour {
		t.Errorf("resume %v", r)
	}
	const other = "https://other.example"
	if n := c.Local(other); n.Push.URL != other || n.Push.Rate != 3 || n.CountryCode != "44" {
		t.Errorf("network %+v", n.Push)
	}
	if o := c.Menu(); len(o.Units) != 1 || o.Units[0].M2 != 4046.9 {
		t.Errorf("menu %+v", o)
	}
	want := store.DefaultRetention()
	want.Texts, want.Growers = 90, 0
	if got := c.Keep.Retention(); got != want {
		t.Errorf("retention %+v, want %+v", got, want)
	}
	list, err := c.Watch.Networks()
	if err != nil || len(list) != 3 || list[2] != netip.MustParsePrefix("10.0.0.7/32") {
		t.Errorf("watch %v, %v", list, err)
	}
	routes := c.PushRoutes()
	if len(routes) != 2 || !slices.Equal(routes[0].Through, []string{"local"}) || routes[1].Prefix != "" {
		t.Errorf("routes %+v", routes)
	}
}

// A key that [place] leaves out does not change in the records.
func TestPlaceKeepsWhatIsLeftOut(t *testing.T) {
	stored := store.Place{Zone: "Asia/Tokyo", Latitude: 36, ElevationM: 200, MorningHour: 7}
	want := stored
	want.MorningHour = 6
	if got := parse(t, "place.morning_hour = 6").Place.over(stored); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
	zeros := parse(t, "place = {zone = 'UTC', latitude = 0.0, elevation_m = 0, morning_hour = 0}").Place
	if got := zeros.over(stored); got != (store.Place{Zone: "UTC"}) {
		t.Errorf("the equator at sea level is %+v", got)
	}
}

func TestLimitsAndProxy(t *testing.T) {
	c := parse(t, `
[limits]
open_sessions = 0
texts_a_day = 500
pause = "5m"
[limits.number]
calls_a_minute = 20
[proxy]
trusted = ["10.0.0.0/8", "fd00::1"]
`)
	def := DefaultLimits()
	got := c.Limits.Incoming()
	if all := (limit.Set{CallsAMinute: def.CallsAMinute, TextsADay: 500}); got.All != all {
		t.Errorf("limits %+v, want %+v", got.All, all)
	}
	if number := (limit.Set{CallsAMinute: 20, OpenSessions: def.Number.OpenSessions}); got.Number != number {
		t.Errorf("limits of a number %+v, want %+v", got.Number, number)
	}
	if got.Pause != 5*time.Minute {
		t.Errorf("pause %v", got.Pause)
	}
	p, err := c.Proxy.Gateway()
	trusted := []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("fd00::1/128")}
	if err != nil || !slices.Equal(p.Trusted, trusted) {
		t.Errorf("proxy %v, %v", p, err)
	}
}

// Without rowbell.toml, Load returns the default configuration, which is valid. A file that the caller names must
// exist.
func TestLoadWithoutAFile(t *testing.T) {
	t.Chdir(t.TempDir())
	c, err := Load("")
	if err != nil || c.Validate() != nil {
		t.Errorf("%v, %v", err, c.Validate())
	}
	if _, err := Load("other.toml"); err == nil {
		t.Error("a file that is missing was read")
	}
}

// Every secret is in the environment variable of its name, or in the file that the variable with the suffix _FILE
// names. No error shows a secret.
func TestNetworksNeedTheirSecrets(t *testing.T) {
	samples := "../../../testdata/gateways/"
	c, err := Load(samples + "heron.toml")
	ok(t, err)
	file := filepath.Join(t.TempDir(), "secret")
	ok(t, os.WriteFile(file, []byte("reed-and-water\n"), 0o600))
	const short = "whsec_c2hvcnQ="
	for _, tt := range []struct {
		name string
		set  map[string]string // environment variables that replace the valid ones below
		want string            // "": no error
	}{
		{"all there", nil, ""},
		{"one missing", map[string]string{"HERON_SECRET_OLD": ""},
			"gateways.heron: trust: secrets[2]: HERON_SECRET_OLD is not set"},
		{"one in a file", map[string]string{"HERON_SEND": "", "HERON_SEND_FILE": file}, ""},
		{"twice", map[string]string{"HERON_SEND_FILE": file}, "HERON_SEND and HERON_SEND_FILE are both set"},
		{"no such file", map[string]string{"HERON_SEND": "", "HERON_SEND_FILE": file + "x"}, "HERON_SEND_FILE"},
		{"a secret for a path", map[string]string{"HERON_SEND": "", "HERON_SEND_FILE": short}, "HERON_SEND_FILE"},
		{"too short to sign", map[string]string{"HERON_SECRET": short}, "HERON_SECRET: it is not whsec_"},
	} {
		env := map[string]string{
			"HERON_SECRET": anySecret, "HERON_SECRET_OLD": anySecret, "HERON_SEND": "reed-and-water"}
		for name, v := range tt.set {
			env[name] = v
		}
		_, err := c.Networks(func(name string) string { return env[name] })
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
		if strings.Contains(fmt.Sprint(err), short) {
			t.Errorf("%s: the secret is in the error", tt.name)
		}
	}
}

// White space before and after a token in the environment is ignored.
func TestTokenFromTheEnvironment(t *testing.T) {
	c := Default()
	got, err := c.Networks(func(name string) string { return map[string]string{EnvToken: " river-stone\n"}[name] })
	if err != nil || got[0].Token != profile.HashToken("river-stone") {
		t.Errorf("the token is another one, %v", err)
	}
}

// ok ends the test if err is not nil. This package cannot import configtest, which imports config.
func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
