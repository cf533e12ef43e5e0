package doctor

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/gateway/clock"
)

// slips are mistakes in the descriptions of the sample networks that only a recorded request or answer shows. In each,
// from is replaced by to. Which mistakes people make is a judgement; there is no source.
var slips = []struct{ what, network, from, to, file string }{
	{"a wrong place of the number", "heron", `"/line/caller"`, `"/line/calle"`, "ussd-1-begin.http"},
	{"a pointer in a form", "marl", `phone = "field"`, `phone = "/field"`, "ussd-1-begin.http"},
	{"a misspelt header", "weir", "header:X-Bank", "header:X-Bnak", "sms-1-accent.http"},
	{"an attribute that is an element", "sedge", `phone = "root"`, `phone = "@root"`, "sms-1-two-growers.http"},
	{"a prefix that the call does not have", "sedge", `phone = "root"`, `phone = "b:root"`, "sms-1-two-growers.http"},
	{"another namespace", "kiln", "urn:example:clay", "urn:example:clays", "ussd-1-begin.http"},
	{"no each", "sedge", "each = \"/bed/stem\"\n", "", "sms-1-two-growers.http"},
	{"a wrong each", "sedge", `"/bed/stem"`, `"/beds/stem"`, "sms-1-two-growers.http"},
	{"a place of an object in each", "rook", `"/roost/calls"`, `"/roost"`, "sms-1-two-growers.http"},
	{"no each for a list", "rook", "each = \"#\"\n", "", "receipt-1-two.http"},
	{"another charset than that of the content type", "teasel", "charset = \"iso-8859-1\"\n", "",
		"sms-1-two-growers.http"},
	{"a word of no outcome", "tern", `"dropped"`, `"Dropped"`, "push-right.response"},
	{"a word of no event", "heron", `"opens"`, `"open"`, "ussd-1-begin.http"},
	{"a word of no state", "heron", `["afloat"] }`, `["aflot"] }`, "receipt-1-afloat.http"},
	{"milliseconds as RFC 3339", "heron", "time = \"unix-ms\"\nstates", "states", "receipt-1-afloat.http"},
	{"milliseconds as seconds", "heron", "time = \"unix-ms\"\nstates", "time = \"unix\"\nstates",
		"receipt-1-afloat.http"},
	{"no strip", "marl", "strip = { phone = [\"line-\"] }\n", "", "ussd-1-begin.http"},
	{"no country code", "marl", "country_code = \"44\"\n", "", "ussd-1-begin.http"},
	{"no separator", "marl", "separator = \"~\"\n", "", "ussd-3-entry.http"},
	{"the whole session as one entry", "marl", "holds = \"all\"\nseparator = \"~\"\n", "", "ussd-3-entry.http"},
	{"no coding", "adze", "coding = \"ucs2-hex\"\nphone = \"/hand\"\nsession", "phone = \"/hand\"\nsession",
		"ussd-5-1-yes.http"},
	{"another coding", "adze", "coding = \"ucs2-hex\"\nphone = \"/hand\"\nsession",
		"coding = \"gsm7-hex\"\nphone = \"/hand\"\nsession", "ussd-5-1-yes.http"},
	{"no charset", "weir", "body = \"form\"\ncharset = \"iso-8859-1\"\n", "body = \"form\"\n", "ussd-7-accent.http"},
	{"another address", "weir", "192.0.2.0/24", "198.51.100.0/24", "ussd-1-first.http"},
	{"another user", "sedge", `user = "sedge"`, `user = "sedg"`, "sms-1-two-growers.http"},
	{"another kind of secret", "sedge", "by = \"basic\"\nuser = \"sedge\"", `by = "bearer"`, "sms-1-two-growers.http"},
	{"another secret", "sedge", `secrets = ["SEDGE_SECRET"]`, `secrets = ["MARL_SECRET"]`, "sms-1-two-growers.http"},
	{"no prefix of the signature", "adze", "prefix = \"mark \"\n", "", "ussd-1-begin.http"},
	{"a misspelt prefix", "adze", `"mark "`, `"marc "`, "ussd-1-begin.http"},
	{"a misspelt header of the signature", "adze", "X-Adze-Mark", "X-Adze-Marc", "ussd-1-begin.http"},
	{"a misspelt header of the time", "adze", "X-Adze-Struck", "X-Adze-Strike", "ussd-1-begin.http"},
	{"signed milliseconds as seconds", "adze", "unix-ms", "unix", "ussd-1-begin.http"},
	{"signed milliseconds as RFC 3339", "adze", "unix-ms", "rfc3339", "ussd-1-begin.http"},
	{"another order of what is signed", "adze", "{{.Method}} {{.Path}}", "{{.Path}} {{.Method}}", "ussd-1-begin.http"},
	{"a wrong place of the outcome", "heron", "/parcel/fate", "/fate", "push-right.response"},
	{"a wrong place of the id", "heron", "/parcel/ticket", "/parcel/tiket", "push-right.response"},
	{"a wrong place of success", "sedge", `success = { at = "/seed`, `success = { at = "/sead`, "push-right.response"},
	{"a wrong word of success", "weir", `is = ["over"]`, `is = ["ok"]`, "push-right.response"},
}

// doctor prints for each slip what is wrong and what the request or answer has instead. Read testdata/slips.txt after
// this command:
//
//	go test ./cmd/rowbell/doctor -run Slips -update    # writes testdata/slips.txt again
func TestSlipsAreNamed(t *testing.T) {
	var all strings.Builder
	for _, s := range slips {
		right := configtest.Sample(t, s.network+".toml")
		wrong := strings.ReplaceAll(right, s.from, s.to)
		if wrong == right {
			t.Errorf("%s: %q is not in the description", s.what, s.from)
		}
		before, after := said(t, right, s.network, s.file), said(t, wrong, s.network, s.file)
		if after == before {
			t.Errorf("%s: nothing else is said than of the right description:\n%s", s.what, after)
		}
		fmt.Fprintf(&all, "%s: %s, %s\n%s\n", s.what, s.network, s.file, after)
	}
	const golden = "testdata/slips.txt"
	if *update {
		ok(t, os.MkdirAll("testdata", 0o755))
		ok(t, os.WriteFile(golden, []byte(all.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	ok(t, err)
	if all.String() != string(want) {
		t.Errorf("got\n%s\nwant\n%s", all.String(), want)
	}
}

// doctor suggests no mistake in a right description, whatever the network sends.
func TestNothingIsSuggestedOfWhatIsRight(t *testing.T) {
	for name, requests := range configtest.Networks(t) {
		for _, file := range requests {
			if filepath.Base(file) == "receipt-2-unheard.http" {
				continue // its state is not described, which doctor says
			}
			text := said(t, configtest.Sample(t, name+".toml"), name, filepath.Base(file))
			if strings.Contains(text, "note: ") && !strings.Contains(text, "would be refused") {
				t.Errorf("%s\n%s", file, text)
			}
		}
	}
}

// said returns the lines about mistakes that doctor prints for a recorded request or answer.
func said(t *testing.T, toml, network, file string) string {
	t.Helper()
	rec := Recording{Network: network, Now: configtest.SampleTime,
		Files: []string{filepath.Join(configtest.Samples(), network, file)}}
	var out bytes.Buffer
	c := configtest.Fresh(t, toml)
	if strings.HasSuffix(file, ".response") {
		ok(t, Answers(&out, c, configtest.Secrets(t), rec))
	} else {
		networks, err := c.Networks(configtest.Secrets(t))
		ok(t, err)
		described, err := named(networks, network)
		ok(t, err)
		r := replay{out: &out, network: described, clock: clock.New(rec.Now), from: "192.0.2.9:1"}
		raw, err := os.ReadFile(rec.Files[0])
		ok(t, err)
		_, _, err = r.understand(file, raw)
		ok(t, err)
	}
	var lines strings.Builder
	for line := range strings.Lines(out.String()) {
		for _, start := range []string{"note: ", "would be refused", "the caller would not", "means ", "because ",
			"found ", "missing ", "there "} {
			if strings.HasPrefix(strings.TrimSpace(line), start) {
				lines.WriteString(line)
			}
		}
	}
	return lines.String()
}
