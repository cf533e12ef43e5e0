package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/store"
)

// examine runs rowbell doctor in a folder of its own.
func examine(t *testing.T, toml string, env map[string]string, args ...string) (code int, out string) {
	t.Helper()
	conf := filepath.Join(t.TempDir(), "rowbell.toml")
	if err := os.WriteFile(conf, []byte(toml), 0o600); err != nil {
		t.Fatal(err)
	}
	var o, e bytes.Buffer
	code = run(append([]string{"doctor", "--config", conf, "--test-clock", configtest.SampleTime.Format(time.RFC3339)}, args...),
		func(name string) string { return env[name] }, strings.NewReader(""), &o, &e)
	return code, o.String() + e.String()
}

// What is wrong is found, each with what to do, and nothing is made or changed.
func TestDoctor(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "rowbell.db")
	path := func(name string) string { return filepath.Join(dir, name) }
	s, err := store.Open(context.Background(), db, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	late := configtest.SampleTime.Add(-3 * time.Hour).Unix()
	err = s.InTx(t.Context(), func(tx *store.Tx) error {
		_, err := tx.Enqueue(store.Message{Key: "k", To: fictional(1), Note: "reply", Text: "x", CreatedAt: late, DueAt: late, UsefulUntil: late + 90_000})
		return err
	})
	if err == nil {
		err = s.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	ruin := path("ruin.db")
	if err := os.WriteFile(ruin, []byte("these are no records at all, whatever the name says"), 0o600); err != nil {
		t.Fatal(err)
	}
	open := path("open.db")
	b, err := os.ReadFile(db)
	if err == nil {
		err = os.WriteFile(open, b, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	const tern = "[gateways.tern.trust]\nby = \"bearer\"\nsecrets = [\"WORD\"]\n"
	word := map[string]string{"WORD": "reeds-by-the-water"}
	for _, tt := range []struct {
		name, toml string
		env        map[string]string
		args       []string
		code       int
		says       []string
	}{
		{"nothing there", "", nil, []string{"--db", path("none.db")}, 0, []string{"note  records        there is no", "rowbell serve makes it", "no nightly backup"}},
		{"a setting that is none", "lisen = 1", nil, nil, 1, []string{"line 1", "lisen", "Do: Mend that line"}},
		{"no records", "", nil, []string{"--db", ruin}, 1, []string{"wrong records", "not a SQLite database", "rowbell restore"}},
		{"readable by all", "", nil, []string{"--db", open}, 1, []string{"chmod 600 " + open}},
		{"texts that do not go out", "", nil, []string{"--db", db}, 1, []string{"wrong sending        due and waiting: 1 text, the first for 3h0m0s", "See that the service runs"}},
		{"no folder for backups", "[backup]\nfolder = \"" + path("nowhere") + "\"", nil, []string{"--db", path("none.db")}, 1, []string{"wrong disk           backups: there is no folder", "Do: Make the folder"}},
		{"no secret", tern, nil, nil, 1, []string{"wrong gateways", "WORD is not set"}},
		{"a secret", tern, word, []string{"--db", path("none.db")}, 0, []string{"gateway tern   its calls carry a secret"}},
		{"to all the world", "listen = \"0.0.0.0:8080\"", nil, []string{"--db", path("none.db")}, 0, []string{"note  listening", "without TLS"}},
		{"no certificate", "listen = \"0.0.0.0:8443\"\n[tls]\ncert = \"" + path("c.pem") + "\"\nkey = \"" + path("k.pem") + "\"", nil, nil, 1, []string{"wrong listening", "c.pem"}},
		{"no certificate, on this machine", "[tls]\ncert = \"" + path("c.pem") + "\"\nkey = \"" + path("k.pem") + "\"", nil, nil, 1, []string{"wrong listening", "c.pem"}},
		{"a limit on what costs nothing", "[limits]\nmoney_a_day = 3\n[push]\nurl = \"https://gateway.invalid/texts\"", nil, []string{"--offline", "--db", path("none.db")}, 0, []string{"note  gateway local  a limit on money is set and its texts have no price", "segment_price"}},
		{"a place", "[place]\nzone = \"Asia/Kathmandu\"", nil, []string{"--db", path("none.db")}, 0, []string{"ok    time zones     Asia/Kathmandu: it is Wed 25 Nov 14:45 there"}},
		{"no such gateway", "[push]\nurl = \"https://gateway.invalid/texts?key=hidden\"", nil, []string{"--db", path("none.db")}, 1, []string{"wrong gateway local  texts cannot go out by it: the name of the host is not known"}},
		{"not to be tried", "[push]\nurl = \"https://gateway.invalid/texts?key=hidden\"", nil, []string{"--offline", "--db", path("none.db")}, 0, []string{"its calls carry a token"}},
	} {
		code, out := examine(t, tt.toml, tt.env, tt.args...)
		if code != tt.code {
			t.Errorf("%s: %d, want %d:\n%s", tt.name, code, tt.code, out)
		}
		for _, want := range tt.says {
			if !strings.Contains(out, want) {
				t.Errorf("%s: %q is not said:\n%s", tt.name, want, out)
			}
		}
		for _, secret := range []string{"hidden", word["WORD"]} {
			if strings.Contains(out, secret) {
				t.Errorf("%s: a secret is told:\n%s", tt.name, out)
			}
		}
	}
	if _, err := os.Stat(path("none.db")); err == nil {
		t.Error("records were made")
	}
}

// A recorded request is shown as it is understood, with its answer and the
// texts that it would have sent, the number masked; nothing of it is kept.
func TestDoctorSample(t *testing.T) {
	env := configtest.Secrets(t)
	sample := func(args ...string) (int, string) {
		var o, e bytes.Buffer
		code := run(append([]string{"doctor"}, args...), env, strings.NewReader(""), &o, &e)
		return code, o.String() + e.String()
	}
	for _, tt := range []struct {
		args []string
		code int
		says []string
	}{
		{[]string{"--config", configtest.Samples() + "/heron.toml", "--profile", "heron", "--sample", configtest.Samples() + "/heron/ussd-1-begin.http", "--sample", configtest.Samples() + "/heron/ussd-2-entry.http"}, 0,
			[]string{"ussd: begin", "phone    /line/caller", "would be let in", `"show":{"words":"rowbell texts you`, "ussd: entry", "No plot yet", "would be sent to", "Welcome to rowbell"}},
		{[]string{"--config", configtest.Samples() + "/tern.toml", "--profile", "tern", "--from", "192.0.2.9", "--sample", configtest.Samples() + "/tern/ussd-01-begin.http"}, 0, []string{"the caller would be let in", "X-Aloft: yes"}},
		{[]string{"--config", configtest.Samples() + "/tern.toml", "--profile", "tern", "--from", "198.51.100.9", "--sample", configtest.Samples() + "/tern/ussd-01-begin.http"}, 1, []string{"would not be let in", "403 Forbidden"}},
		{[]string{"--config", configtest.Samples() + "/kiln.toml", "--profile", "kiln", "--sample", configtest.Samples() + "/kiln/ussd-5-doctype.http"}, 1, []string{"would be refused"}},
		{[]string{"--config", configtest.Samples() + "/kiln.toml", "--profile", "tern", "--sample", configtest.Samples() + "/kiln/sms-1-text.http"}, 1, []string{"there is no network called tern; there are kiln"}},
		{[]string{"--config", configtest.Samples() + "/kiln.toml", "--profile", "kiln", "--sample", configtest.Samples() + "/kiln/nothing.http"}, 1, []string{"nothing.http"}},
		{[]string{"--profile", "kiln"}, 2, []string{"--profile and --sample go together"}},
		{[]string{"--profile", "kiln", "--from", "home", "--sample", "x"}, 2, []string{"--from: \"home\" is not an address"}},
		{[]string{"--from", "192.0.2.9"}, 2, []string{"--from goes with --sample"}},
	} {
		code, out := sample(tt.args...)
		if code != tt.code {
			t.Errorf("%v: %d, want %d:\n%s", tt.args, code, tt.code, out)
		}
		for _, want := range tt.says {
			if !strings.Contains(out, want) {
				t.Errorf("%v: %q is not said:\n%s", tt.args, want, out)
			}
		}
		assertNoNumbers(t, out)
	}
}
