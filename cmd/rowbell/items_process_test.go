package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// severalNetworks returns the configuration of a network that sends several texts or receipts in a request, of one that
// sends several texts in a form, and of one whose description does not say that there are several.
func severalNetworks(push string) string {
	return fmt.Sprintf(`
[limits]
items_a_call = 12
[gateways.rook]
trust = { by = "bearer", secrets = ["ROOK_SECRET"] }
[gateways.rook.sms]
body = "json"
each = "/calls"
id = "/no"
phone = "/throat"
text = "/caw"
reply = { type = "text/plain", body = "{{range .IDs}}{{.}} {{end}}of {{.Kept}}, not {{.Refused}}" }
[gateways.rook.receipt]
body = "json"
each = "#"
id = "/twig"
state = "/lies"
states = { delivered = ["nested"], failed = ["fallen"] }
[gateways.rook.push]
url = %q
type = "application/json"
headers = { Idempotency-Key = "{{.ID}}" }
body = '{"ID":"{{.ID}}","To":"{{.To}}","Text":"{{.Text}}"}'
answer = "json"
id = "/id"
success = { at = "/id" }
idempotent = true
[gateways.sedge]
trust = { by = "bearer", secrets = ["ROOK_SECRET"] }
sms = { body = "form", each = "leaf", id = "request:bed", phone = "root", text = "leaf" }
[gateways.tern]
trust = { by = "bearer", secrets = ["ROOK_SECRET"] }
sms = { body = "json", id = "/calls/0/no", phone = "/calls/0/throat", text = "/calls/0/caw" }
`, push)
}

// caw is a text in a request of the networks rook and tern.
type caw struct {
	No     string `json:"no,omitempty"`
	Throat string `json:"throat,omitempty"`
	Caw    string `json:"caw"`
}

func calls(items ...caw) string {
	b, err := json.Marshal(map[string]any{"calls": items})
	if err != nil {
		panic(err)
	}
	return string(b)
}

// sends posts the body of a network's call. The answer is "" and the status 0 if the service is killed meanwhile.
func (p *process) sends(path, body string) (answer string, status int) {
	req, err := http.NewRequest(http.MethodPost, p.base+path, strings.NewReader(body))
	must(p.t, err)
	req.Header.Set("Authorization", "Bearer "+testToken)
	req.Header.Set("Content-Type", "application/json")
	if !strings.HasPrefix(body, "{") && !strings.HasPrefix(body, "[") {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	resp, err := p.http.Do(req)
	if err != nil {
		return "", 0
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		return "", 0
	}
	return string(b), resp.StatusCode
}

// Two growers register by texts of which a network sends several in a request. The service is killed again and again
// while it works on such requests. Each request is kept whole or not at all, and a repeat doubles nothing.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestSeveralTextsInARequestSurviveKills(t *testing.T) {
	t.Parallel()
	rounds := [][]string{{"menu", "1", "1"}, {"1", "12/11", "1", "1"}, {"1", "1", "600"}}
	const pairs = 4
	p := newProcess(t)
	p.env, p.settings = []string{"ROOK_SECRET=" + testToken}, severalNetworks(p.push.URL)
	p.start(aDay)
	request := func(pair, round int) string {
		var items []caw
		for i, text := range rounds[round] {
			for n := range 2 {
				items = append(items, caw{fmt.Sprintf("%d.%d", round, i), fictional(2*pair + n).E164(), text})
			}
		}
		return calls(items...)
	}
	// The texts of the last pair are sent between the kills, so that they show how many answers there are.
	want := 0
	for round := range rounds {
		var mu sync.Mutex
		answered := make(chan struct{}, pairs)
		answers := map[int]string{}
		var senders sync.WaitGroup
		for pair := range pairs - 1 {
			senders.Go(func() {
				if a, status := p.sends("/in/rook/sms", request(pair, round)); status != 0 {
					mu.Lock()
					answers[pair] = a
					mu.Unlock()
				}
				answered <- struct{}{}
			})
		}
		<-answered
		p.kill()
		senders.Wait()
		before := want
		p.start(aDay.Add(time.Duration(round) * time.Hour))
		if _, status := p.sends("/in/rook/sms", request(pairs-1, round)); status != http.StatusOK {
			t.Fatalf("round %d: %d\n%s", round, status, p.log.String())
		}
		p.kill()
		want = p.answersTo(fictional(2*pairs - 1))[0]
		for pair := range pairs - 1 {
			counts := p.answersTo(fictional(2*pair), fictional(2*pair+1))
			_, known := answers[pair]
			kept := counts[0] == want && counts[1] == want
			if !kept && (known || counts[0] != before || counts[1] != before) {
				t.Errorf("round %d, pair %d: %v answers, want %d for each; answered: %v",
					round, pair, counts, want, known)
			}
		}
		p.start(aDay.Add(time.Duration(round) * time.Hour))
		for pair := range pairs - 1 {
			again, _ := p.sends("/in/rook/sms", request(pair, round))
			if first, known := answers[pair]; known && first != again || !strings.Contains(again, "not 0") {
				t.Errorf("round %d: %q, repeated: %q", round, first, again)
			}
		}
	}
	p.settle()
	p.kill()
	for n := range 2 * pairs {
		if got := p.answersTo(fictional(n))[0]; got != want {
			t.Errorf("grower %d: %d answers, want %d", n, got, want)
		}
		if got := len(p.inbox.take(fictional(n).E164())); got != want {
			t.Errorf("grower %d got %d texts, want %d", n, got, want)
		}
	}
	s := openRecords(t, filepath.Join(p.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		for n := range 2 * pairs {
			if r, err := found(tx, fictional(n), aDay.Unix()); err != nil || r.plots != 1 {
				t.Errorf("grower %d: %+v, %v", n, r, err)
			}
		}
		return nil
	})
	must(t, s.Close())
}

// A request with several texts or receipts: a STOP counts beside texts that are refused, an item that cannot be read
// loses no other, and a network whose description does not say that there are several is told so.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestSeveralItemsInARequest(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.env, p.settings = []string{"ROOK_SECRET=" + testToken}, severalNetworks(p.push.URL)
	p.start(aDay)
	a, b := fictional(40).E164(), fictional(41).E164()
	c := "%2B" + fictional(42).E164()[1:]
	for _, tt := range []struct {
		path, body string
		status     int
		answer     string
	}{
		{"/in/rook/sms", calls(caw{"1", a, "menu"}, caw{"2", b, "menu"}, caw{"3", a, "1"}, caw{"4", b, "1"}), 200,
			"1 2 3 4 of 4, not 0"},
		{"/in/rook/sms", calls(caw{"5", "", "menu"}, caw{"6", b, "STOP"}, caw{"", a, "6"}, caw{"7", a, "1"}), 200,
			"6 7 of 2, not 2"},
		{"/in/rook/sms", calls(caw{"5", "", "menu"}, caw{"6", b, "STOP"}, caw{"", a, "6"}, caw{"7", a, "1"}), 200,
			"6 7 of 2, not 2"},
		{"/in/rook/sms", calls(caw{"5", "", "menu"}), 400, `"item":1`},
		{"/in/rook/sms", calls(make([]caw, 13)...), 413, "13 items; at most 12"},
		{"/in/sedge/sms", "bed=1&root=" + c + "&leaf=menu&root=" + c + "&leaf=1", 202, ""},
		{"/in/sedge/sms", "bed=1&root=" + c + "&leaf=menu&root=" + c + "&leaf=1", 202, ""},
		{"/in/sedge/sms", "bed=2&root=" + c + "&leaf=menu&leaf=1", 400, "this key has 1, the key leaf has 2"},
		{"/in/tern/sms", calls(caw{"8", a, "menu"}), 202, ""},
		{"/in/tern/sms", calls(caw{"9", a, "menu"}, caw{"10", b, "STOP"}), 400, "The key each"},
		{"/in/rook/receipt", `[]`, 204, ""},
	} {
		if got, status := p.sends(tt.path, tt.body); status != tt.status || !strings.Contains(got, tt.answer) {
			t.Errorf("%s %s: %d %q, want %d %q", tt.path, tt.body, status, got, tt.status, tt.answer)
		}
	}
	p.settle()
	texts := p.inbox.take(b)
	if last := strings.Join(texts, "\n"); !strings.HasSuffix(last, "Text START to begin again.") {
		t.Errorf("the grower who sent STOP got\n%s", last)
	}
	// The network has given the ids net-1, net-2, … to the texts.
	body := `[{"twig":"net-1","lies":"nested"},{"lies":"nested"},{"twig":"net-2","lies":"fallen"},` +
		`{"twig":"x","lies":"nested"}]`
	for range 2 {
		if got, status := p.sends("/in/rook/receipt", body); status != http.StatusNoContent {
			t.Errorf("receipts: %d %s", status, got)
		}
	}
	_, metrics := p.get("/metrics")
	for _, want := range []string{
		`rowbell_items_total{gateway="rook",kind="receipt",outcome="refused"} 2`,
		`rowbell_items_total{gateway="rook",kind="sms",outcome="ok"} 6`,
		`rowbell_items_total{gateway="rook",kind="sms",outcome="repeat"} 2`,
		`rowbell_receipts_total{gateway="rook",outcome="noted",state="delivered"} 2`,
		`rowbell_receipts_total{gateway="rook",outcome="stray",state="delivered"} 2`,
	} {
		if !strings.Contains(metrics, want) {
			t.Errorf("the metrics lack %s", want)
		}
	}
	for _, want := range []string{`"kept":2,"refused":2`, "rowbell doctor --sample", "The key each"} {
		if !strings.Contains(p.log.String(), want) {
			t.Errorf("the log lacks %s", want)
		}
	}
	p.stop()
	s := openRecords(t, filepath.Join(p.dir, config.DefaultDB))
	ends := map[store.State]int{}
	read(t, s, func(tx *store.Tx) error {
		for n, stopped := range map[int]bool{40: false, 41: true, 42: false} {
			book, err := tx.Ledger(fictional(n), aDay.Unix())
			if err != nil {
				return err
			}
			if book.Stopped() != stopped {
				t.Errorf("grower %d: stopped is %v", n, book.Stopped())
			}
			list, err := tx.Inbox(fictional(n), 0)
			for _, m := range list {
				ends[m.State]++
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	must(t, s.Close())
	if ends[store.Delivered] != 1 || ends[store.Refused] != 1 {
		t.Errorf("the texts ended as %v, want one delivered and one refused", ends)
	}
}
