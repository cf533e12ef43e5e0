package main

import (
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

func TestConfigMistakesNameLineAndKey(t *testing.T) {
	for _, c := range []struct{ name, toml, want string }{
		{"unknown key", "listen = \"x\"\n\nlissten = \"y\"\n", "line 3, column 1: there is no setting of this name"},
		{"unknown key in a table", "[place]\nzone = \"UTC\"\nmorning = 7\n", "line 3"},
		{"wrong type", "quiet_hour = \"late\"\n", "line 1"},
		{"syntax", "db = \n", "line 1"},
		{"span", "[resume]\nussd = \"soon\"\n", "not a time span"},
		{"level", "log_level = \"loud\"\n", "log_level"},
		{"code", "dial_code = \"123\"\n", "dial_code"},
		{"quiet hour", "quiet_hour = 3\n", "quiet_hour"},
		{"step", "step_m = 12.0\n", "step_m"},
		{"unit", "[[units]]\nname = \"\"\nm2 = 5\n", "units: number 1"},
		{"a morning that never comes", "[place]\nmorning_hour = 20\n", "place.morning_hour"},
		{"country code", "country_code = \"+44\"\n", "country_code"},
		{"push address", "[push]\nurl = \"sms.example\"\n", "push.url"},
		{"push rate", "[push]\nrate = -1.0\n", "push.rate"},
		{"months", "[place]\nmonths = [{min_c = 1, max_c = 2}]\n", "place.months: 1 months"},
	} {
		t.Run(c.name, func(t *testing.T) {
			conf := config{LogLevel: "info", DialCode: defaultDialCode, QuietHour: defaultQuietHour}
			err := parseConfig([]byte(c.toml), &conf)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q in it", err, c.want)
			}
		})
	}
}

func TestConfigIsRead(t *testing.T) {
	conf := config{LogLevel: "info", DialCode: defaultDialCode, QuietHour: defaultQuietHour}
	err := parseConfig([]byte(`
db = "r.db"
country_code = "44"
[place]
zone = "UTC"
latitude = 12.5
morning_hour = 0
[resume]
ussd = "90m"
[push]
url = "https://gateway.example/x"
rate = 3
[[units]]
name = "acre"
m2 = 4046.9
`), &conf)
	if err != nil {
		t.Fatal(err)
	}
	ussd, sms := conf.resume()
	if ussd != 90*time.Minute || sms != 72*time.Hour {
		t.Errorf("resume %v, %v", ussd, sms)
	}
	if n := conf.network("https://other.example"); n.Push.URL != "https://other.example" || n.Push.Rate != 3 || n.CountryCode != "44" {
		t.Errorf("network %+v", n.Push)
	}
	if p := conf.place(store.Place{Zone: "Asia/Tokyo", MorningHour: 7}); p.Zone != "UTC" || p.MorningHour != 0 || p.Latitude != 12.5 {
		t.Errorf("place %+v", p)
	}
	if o := conf.menuOptions(); len(o.Units) != 1 || o.Units[0].M2 != 4046.9 {
		t.Errorf("menu %+v", o)
	}
}

func TestFileMayBeMissingOnlyWhenNotNamed(t *testing.T) {
	t.Chdir(t.TempDir())
	if _, err := loadConfig(""); err != nil {
		t.Error(err)
	}
	if _, err := loadConfig("other.toml"); err == nil {
		t.Error("a file that was named may not be missing")
	}
}
