package main

import (
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// startConfigured starts the service with the configuration of the dialogues, before whose tables stand more settings,
// and after them more tables.
func (p *process) startConfigured(at time.Time, settings, tables string) {
	p.t.Helper()
	common, err := os.ReadFile("../../testdata/dialogues/rowbell.toml")
	must(p.t, err)
	file := filepath.Join(p.dir, config.DefaultFile)
	must(p.t, os.WriteFile(file, []byte(settings+"\n"+string(common)+"\n"+tables), 0o600))
	p.run("serve", "--log-level", "debug", "--listen", "127.0.0.1:0", "--config", file, "--db", config.DefaultDB,
		"--test-clock", at.Format(time.RFC3339))
}

// says sends a text from a sender, and returns the texts that the phone then gets.
func (p *process) says(sender, phone, text string) []string {
	p.t.Helper()
	p.texts++
	p.post("sms", map[string]any{"id": fmt.Sprint("text-", p.texts), "phone": sender, "text": text},
		http.StatusAccepted)
	p.settle()
	return p.inbox.take(phone)
}

// metric returns the value of a series on /metrics, "" if it is not there.
func (p *process) metric(series string) string {
	p.t.Helper()
	_, page := p.get("/metrics")
	for line := range strings.Lines(page) {
		if value, is := strings.CutPrefix(line, series+" "); is {
			return strings.TrimSpace(value)
		}
	}
	return ""
}

// ownFormat describes networks that speak the project's own format and whose texts go to these URLs.
func ownFormat(urls map[string]string) (tables string) {
	for _, name := range slices.Sorted(maps.Keys(urls)) {
		tables += fmt.Sprintf("[gateways.%s.trust]\nby = \"bearer\"\nsecrets = [\"OWN_FORMAT_SECRET\"]\n"+
			"[gateways.%[1]s.push]\nurl = %q\nidempotent = true\n", name, urls[name])
	}
	return tables
}

// A text whose sender is the service itself gets no answer, in whatever form a network writes that sender. It begins no
// dialogue and makes no records. A number that only looks like a sender is answered.
func TestOwnSendersGetNoAnswer(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.env = []string{"OWN_FORMAT_SECRET=" + testToken}
	url := p.push.URL
	p.startConfigured(aDay, `country_code = "44"`, "[gateways.heron]\nsender = \"+44 7700 900555\"\n"+
		"[gateways.tern]\nsender = \"Our Valley\"\n"+
		ownFormat(map[string]string{"local": url, "heron": url, "tern": url}))
	own := []string{"12345", "+12345", "0012345", "012345", "+4412345", "4412345", "tel:12345", "12 345", "123",
		"+447700900555", "447700900555", "00447700900555", "07700900555", "7700900555", "tel:+44-7700-900555",
		"Our Valley", "OUR  VALLEY", " our valley "}
	for _, sender := range own {
		if got := p.says(sender, "+447700900555", "menu"); len(got) > 0 {
			t.Errorf("%q got %q", sender, got)
		}
	}
	if got := p.metric(`rowbell_texts_not_answered_total{gateway="local",reason="own"}`); got != fmt.Sprint(len(own)) {
		t.Errorf("%q texts of our own senders were counted, want %d", got, len(own))
	}
	for series, want := range map[string]string{"rowbell_sessions_open": "0", "rowbell_growers": "0"} {
		if got := p.metric(series); got != want {
			t.Errorf("%s is %q, want %s", series, got, want)
		}
	}
	if n := strings.Count(p.log.String(), `"level":"warn"`); n == 0 ||
		!strings.Contains(p.log.String(), "came from a sender of ours") {
		t.Errorf("%d warnings:\n%s", n, p.log.String())
	}
	if got := p.says("+447700900556", "+447700900556", "menu"); len(got) != 1 {
		t.Errorf("another number got %q", got)
	}
}
