package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The service applies the limits of rowbell.toml, both the limits of each phone number and the limits of all numbers
// together. A number that exceeds its limit is refused for the time that the configuration sets.
func TestLimits(t *testing.T) {
	t.Parallel()
	p := bareProcess(t)
	p.token = testToken
	config := filepath.Join(p.dir, "limits.toml")
	limits := "[limits]\ncalls_a_minute = 12\npause = \"5m\"\n[limits.number]\ncalls_a_minute = 4\nopen_sessions = 2\n"
	must(t, os.WriteFile(config, []byte(limits), 0o600))
	p.run("serve", "--listen", "127.0.0.1:0", "--config", config, "--test-clock", aDay.Format(time.RFC3339))
	dial := func(n int, session string, want int) {
		t.Helper()
		b := p.post("ussd", map[string]any{"phone": fictional(n).E164(), "session": session,
			"event": "begin", "dialled": "*123#"}, want)
		var said struct{ Text, Detail string }
		if err := json.Unmarshal(b, &said); err != nil || said.Text == "" ||
			want != 200 && !strings.HasPrefix(said.Text, "Sorry") {
			t.Errorf("%d: %s", n, b)
		}
	}
	write := func(n int, id, text string, want int) {
		t.Helper()
		p.post("sms", map[string]any{"id": id, "phone": fictional(n).E164(), "text": text}, want)
	}
	dial(1, "a", 200)
	dial(1, "b", 200)
	dial(1, "c", 429) // refused: the number has two sessions open and may not open a third
	dial(1, "b", 200)
	dial(1, "a", 429) // refused: the fifth call of the number in a minute
	write(1, "t1", "menu", 429)
	write(1, "t2", "STOP", 202)
	for n := 2; n <= 9; n++ { // the answers to number 1 (3) and to these (8) make 11 of 12; STOP does not count
		dial(n, "a", 200)
	}
	dial(10, "a", 200)
	dial(11, "a", 429)
	p.set(aDay.Add(4 * time.Minute))
	dial(1, "a", 429)
	dial(11, "a", 200)
	p.set(aDay.Add(5 * time.Minute))
	dial(1, "a", 200)
	if n := strings.Count(p.log.String(), "a limit is reached"); n != 2 ||
		!strings.Contains(p.log.String(), `"scope":"number"`) {
		t.Errorf("%d lines of limits in the log:\n%s", n, p.log.String())
	}
	p.stop()
}
