package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/store/testrun"
)

// Growers use the service, strangers misuse it, and its network fails. The log, the metrics and /readyz contain no
// phone number, no token, and no text of a grower.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestNothingPersonalIsLogged(t *testing.T) {
	t.Parallel()
	at := aDay
	var mu sync.Mutex
	var sent []string // texts that the service pushed
	answer := http.StatusOK
	network := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		var out struct{ To, Text string }
		if err := json.Unmarshal(b, &out); err != nil {
			t.Error(err)
		}
		mu.Lock()
		defer mu.Unlock()
		sent = append(sent, out.Text)
		w.WriteHeader(answer)
		_, _ = w.Write(b) // the answer repeats the request, as a real network may do
	}))
	defer network.Close()
	answers := func(status int) { mu.Lock(); answer = status; mu.Unlock() }

	p := newProcess(t)
	p.pushURL = strings.Replace(network.URL, "http://", "http://desk:pass-word-of-push@", 1)
	p.start(at)
	secrets := []string{testToken, "pass-word-of-push"}
	secret := func(s string) string { secrets = append(secrets, s); return s }
	number := func(n int) string { return secret(fictional(n).E164()) }

	// Growers use the service.
	registering(1).run(p, 100)
	p.post("sms", map[string]any{"id": "a", "phone": number(2), "text": secret("by the old mango tree")},
		http.StatusAccepted)
	p.post("ussd", map[string]any{"phone": number(3), "session": secret("session-of-the-network"), "event": "begin",
		"dialled": "*123*" + secret("8765432109876") + "#"}, http.StatusOK)
	p.post("ussd", map[string]any{"phone": number(3), "session": "session-of-the-network", "event": "entry",
		"entry": secret("behind the school")}, http.StatusOK)
	for _, status := range []int{http.StatusServiceUnavailable, http.StatusBadRequest, http.StatusUnauthorized,
		http.StatusOK} {
		answers(status)
		p.post("sms", map[string]any{"id": fmt.Sprint("b", status), "phone": number(4), "text": "help"},
			http.StatusAccepted)
		at = at.Add(3 * time.Hour)
		p.set(at)
	}
	p.post("receipt", map[string]any{"id": number(5), "state": "failed", "reason": secret("barred by the subscriber")},
		http.StatusNoContent)
	for range 6 { // six days on which reminders are sent
		at = at.Add(24 * time.Hour)
		p.set(at)
	}
	// Strangers call, and requests have mistakes.
	p.post("ussd", map[string]any{"phone": secret("07700900011"), "session": "s", "event": "begin"},
		http.StatusBadRequest)
	p.post("sms", map[string]any{"id": "c", "phone": number(6) + " or so", "text": secret("thrice cursed weeds")},
		http.StatusBadRequest)
	p.post(number(7), nil, http.StatusNotFound)
	token := p.token
	p.token = secret("token-of-somebody-else")
	p.post("ussd", map[string]any{"phone": number(8)}, http.StatusUnauthorized)
	p.token = token
	p.post("receipt?token="+testToken+"&phone="+strings.TrimPrefix(number(9), "+"),
		map[string]any{"id": "none", "state": secret("vanished")}, http.StatusBadRequest)
	for _, path := range []string{"/in/" + number(10) + "/ussd", "/" + secret("a-path-of-their-own"),
		"/in/local/ussd/" + number(11), "/metrics?phone=" + number(12)} {
		req, err := http.NewRequest(secret("STRANGE"), p.base+path, strings.NewReader(secret("body of a stranger")))
		must(t, err)
		req.Header.Set("X-Request-Id", secret("id-of-their-own"))
		req.Header.Set("webhook-id", number(13))
		req.Header.Set("User-Agent", secret("agent-of-their-own"))
		resp, err := p.http.Do(req)
		must(t, err)
		resp.Body.Close()
		if resp.StatusCode/100 != 4 {
			t.Errorf("%s: %d", path, resp.StatusCode)
		}
	}

	said := ""
	for _, page := range []string{"/metrics", "/readyz", "/healthz"} {
		_, body := p.get(page)
		said += body
	}
	for _, line := range []string{`outcome="ok"`, `outcome="denied"`, `outcome="refused"`, `rowbell_growers 1`,
		"rowbell_build_info", "records: ok",
		`rowbell_push_tries_total{gateway="local",outcome="again"}`,
		`rowbell_receipts_total{gateway="local",outcome="stray",state="failed"} 1`} {
		if !strings.Contains(said, line) {
			t.Errorf("%s is missing: an event was not counted", line)
		}
	}
	p.stop()
	said = testrun.WithoutChance(said + p.log.String())
	mu.Lock()
	defer mu.Unlock()
	if len(sent) < 8 {
		t.Errorf("only %d texts were pushed", len(sent))
	}
	secrets = append(secrets, sent...)
	for _, s := range secrets {
		for _, form := range []string{s, strings.TrimPrefix(s, "+"), asJSON(s)} {
			if strings.Contains(said, form) {
				t.Errorf("%q was logged or shown", form)
			}
		}
	}
	if strings.Contains(said, "7700900") {
		t.Error("a part of a number was logged or shown")
	}
}

func asJSON(s string) string {
	b, _ := json.Marshal(s) // no error is possible: every string can be encoded
	return strings.Trim(string(b), `"`)
}

// privateScript is a dialogue in which a grower enters a name, an area, free text and a code. Then staff show, export,
// move and erase the records.
const privateScript = `start 2026-11-25 09:00
phone +447700900041
sms > my cow is called Fenwick
> dial *123#
> 1
> 1
> 1
> 12/11
> 1
> 1
> 1
> 1
> 47*13
> 00
> 2
> 6
> 1
> 6
> Quillmere
sms > where is Thornbury market
sms > STOP
sms > START
@ +8 days
> dial *123*6*2#
> 1
@ restart
rowbell person --phone +447700900041
rowbell person --phone +447700900041 --export all.json
rowbell move --from +447700900041 --to +447700900042
rowbell move --unlinked
rowbell person --phone 0447700900042
rowbell person --phone +447700900042 --erase
rowbell person --phone +447700900042 --erase --yes
rowbell person --phone +447700900042
`

// The log at level debug and the output of commands contain no phone number, no name, and no typed or sent text. The
// source is OWASP ASVS 5.0, requirement 16.2.5, from a late draft: sensitive data is logged hashed or masked only.
func TestNothingTypedIsLogged(t *testing.T) {
	t.Parallel()
	d := newDialogue(t)
	shown := d.play(privateScript)
	if !strings.Contains(shown, "< Quillmere") || !strings.Contains(shown, "611 m2") {
		t.Fatalf("name or area were not taken:\n%s", shown)
	}
	printed := ""
	for line := range strings.Lines(shown) {
		if strings.HasPrefix(line, "| ") {
			printed += line
		}
	}
	for _, done := range []string{"Kept of     +4477…041", "Written: ", "Moved: ", "Erased: ", "not wanted since"} {
		if !strings.Contains(printed, done) {
			t.Errorf("%q was not printed:\n%s", done, printed)
		}
	}
	log := d.process.log.String()
	assertNoNumbers(t, printed)
	if !strings.Contains(log, `"level":"info"`) {
		t.Error("nothing was logged")
	}
	for _, secret := range []string{"Quillmere", "Fenwick", "cow", "Thornbury", "47*13", d.code, "weed now",
		"No more texts", testToken} {
		if secret == "" {
			t.Error("no code was shown")
			continue
		}
		for where, s := range map[string]string{"log": log, "commands": printed} {
			// Only whole words count: the digits of a code can be part of a random request id.
			if regexp.MustCompile(`(?i)\b` + regexp.QuoteMeta(secret) + `\b`).MatchString(s) {
				t.Errorf("%q stands in the %s:\n%s", secret, where, s)
			}
		}
	}
}
