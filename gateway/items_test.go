package gateway_test

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
	"rowbell/store/testrun"
)

const other = store.Phone("+447700900124")

// birds describes texts in a list of JSON objects, and receipts in XML elements.
func birds() profile.Spec {
	return profile.Spec{
		SMS: &profile.SMSSpec{
			CallSpec: profile.CallSpec{Body: "json", Reply: &profile.ReplySpec{Type: "text/plain",
				Body: "{{range .IDs}}{{.}} {{end}}{{.Kept}} {{.Refused}}"}},
			Each: "/birds", ID: "/ring", Phone: "/nest", Text: "/song",
		},
		Receipt: &profile.ReceiptSpec{
			CallSpec: profile.CallSpec{Body: "xml", Reply: &profile.ReplySpec{Status: 204}},
			Each:     "/flock/egg", ID: "@ring", State: ".",
			States: map[string][]string{"delivered": {"hatched"}, "failed": {"broken"}},
		},
	}
}

// flock returns a call with a text for each line: id, number without +44, text.
func flock(lines ...string) string {
	var list []string
	for _, line := range lines {
		w := strings.SplitN(line, " ", 3)
		list = append(list, fmt.Sprintf(`{"ring":%q,"nest":"0%s","song":%q}`, w[0], w[1], w[2]))
	}
	return `{"birds":[` + strings.Join(list, ",") + `]}`
}

// sang returns the texts that the menu got since the last call of sang.
func (h *fixture) sang() (texts []string) {
	for _, step := range h.menu.asked() {
		texts = append(texts, strings.Trim(strings.Fields(step)[1], `"`))
	}
	h.menu.mu.Lock()
	defer h.menu.mu.Unlock()
	h.menu.steps = nil
	return texts
}

// sends posts a call and checks the status, a part of the answer, and the texts that the menu gets.
func (h *fixture) sends(name, body string, code int, part, texts string, change ...func(*http.Request)) {
	h.t.Helper()
	w := h.post("/in/tern/sms", body, change...)
	if got := strings.Join(h.sang(), " "); w.Code != code || !strings.Contains(w.Body.String(), part) || got != texts {
		h.t.Errorf("%s: %d %s, the menu got %q; want %d %s, %q", name, w.Code, w.Body, got, code, part, texts)
	}
}

// outboxOf lists the texts to a phone.
func (h *fixture) outboxOf(p store.Phone) (texts []string) {
	h.t.Helper()
	h.write(func(tx *store.Tx) error {
		list, err := tx.Inbox(p, 0)
		for _, m := range list {
			texts = append(texts, m.Text)
		}
		return err
	})
	return texts
}

func TestSeveralTexts(t *testing.T) {
	t.Parallel()
	h := described(t, birds())
	const a, b = "7700900123", "7700900124"
	call := flock("1 "+a+" menu", "2 "+b+" stop", "3 "+a+" one", "4 "+b+" two")
	h.sends("four texts in their order", call, 200, "1 2 3 4 4 0", "menu stop one two")
	h.sends("the same call", call, 200, "1 2 3 4 4 0", "")
	h.sends("some again, one new", flock("3 "+a+" one", "5 "+a+" three"), 200, "3 5 2 0", "three")
	h.sends("the same id and text twice", flock("6 "+a+" four", "6 "+a+" four"), 200, "6 6 2 0", "four")
	twice := flock("7 "+a+" five", "7 "+a+" stop")
	h.sends("one id of two texts", twice, 200, "7 7 2 0", "five stop")
	h.sends("one id of two texts, again", twice, 200, "7 7 2 0", "")
	h.sends("the id of another phone", flock("8 "+a+" six", "8 "+b+" six"), 200, "8 8 2 0", "six six")
	h.sends("no item", `{"birds":[]}`, 200, "0 0", "")
	got := fmt.Sprint(h.outboxOf(phone), h.outboxOf(other))
	want := "[Heard menu Heard one Heard three Heard four Heard five Stopped. Heard six] " +
		"[Stopped. Heard two Heard six]"
	if got != want {
		t.Errorf("the outbox has %s, want %s", got, want)
	}
}

// An item that cannot be read does not lose the others.
func TestBadItems(t *testing.T) {
	t.Parallel()
	h := described(t, birds())
	good := `{"ring":"%s","nest":"07700900123","song":"stop"}`
	for i, bad := range []string{
		`{}`, `null`, `7`, `"stop"`, `[]`, `[[[]]]`,
		`{"ring":"x","song":"one"}`, `{"nest":"07700900123","song":"one"}`, `{"ring":"x","nest":"7","song":"one"}`,
		`{"ring":["x"],"nest":"07700900123","song":"one"}`, `{"ring":"x","nest":"07700900123","song":"a\u0000"}`,
		`{"ring":"x","nest":"07700900123","song":["one","two"]}`, `[{"ring":"x","nest":"07700900123","song":"one"}]`,
	} {
		id := fmt.Sprint("n", i)
		h.sends(bad, `{"birds":[`+bad+`,`+fmt.Sprintf(good, id)+`]}`, 200, id+" 1 1", "stop")
		h.sends(bad+" alone", `{"birds":[`+bad+`]}`, 400, `"item":1`, "")
	}
	h.sends("a STOP without an id", `{"birds":[7,`+strings.Replace(fmt.Sprintf(good, "x"), `"ring":"x",`, "", 1)+`]}`,
		200, "1 1", "stop")
	if n := len(h.outbox()); n != 13 {
		t.Errorf("%d answers, want one to each STOP with an id", n)
	}
	for _, body := range []string{`{"birds":{"ring":"1"}}`, `{}`, `[]`, `{"birds":null}`, `7`} {
		h.sends(body, body, 400, "/birds", "")
	}
	if log := testrun.WithoutChance(h.log.String()); !strings.Contains(log, `"kept":1,"refused":1`) ||
		strings.Contains(log, "7700900123") {
		t.Errorf("the log has %s", log)
	}
}

// A fault in one text does not undo the others. The network is told to send all again, and only that text is worked on.
func TestFaultInOneText(t *testing.T) {
	t.Parallel()
	h := described(t, birds())
	const a = "7700900123"
	call := flock("1 "+a+" one", "2 "+a+" fail", "3 "+a+" stop")
	h.sends("a fault", call, 503, "try again", "one fail stop")
	h.sends("again", call, 503, "try again", "fail")
	if got := fmt.Sprint(h.outboxOf(phone)); got != "[Heard one Stopped.]" {
		t.Errorf("the outbox has %s", got)
	}
}

// failsOnce is a menu that fails at the first text.
type failsOnce struct {
	gateway.Menu
	failed bool
}

func (m *failsOnce) Text(b menu.Book, in menu.Inbound) (menu.Outcome, error) {
	if !m.failed {
		m.failed = true
		return menu.Outcome{}, errors.New("only once")
	}
	return m.Menu.Text(b, in)
}

// The transaction of a call with several texts may run again. What counts is whether a text failed in the last run.
func TestItemsOfATransactionThatRunsAgain(t *testing.T) {
	t.Parallel()
	h := described(t, birds(), func(o *gateway.Options) {
		o.Store = must(store.Open(t.Context(), testrun.Records(t, makeRecords), store.Options{RunTwice: true}))
		t.Cleanup(func() { o.Store.Close() })
		o.Menu = &failsOnce{Menu: o.Menu}
	})
	h.sends("the first run fails", flock("1 7700900123 one"), 200, "1 1 0", "one")
}

// Limits count texts, not calls. A STOP counts over every limit.
func TestLimitsCountItems(t *testing.T) {
	t.Parallel()
	const a, b = "7700900123", "7700900124"
	h := described(t, birds(), func(o *gateway.Options) { o.Limits.Number.CallsAMinute, o.MaxItems = 3, 6 })
	flood := flock("1 "+a+" one", "2 "+a+" two", "3 "+a+" three", "4 "+a+" four", "5 "+b+" five", "6 "+a+" stop")
	h.sends("a number over its limit", flood, 200, "1 2 3 5 6 5 1", "one two three five stop")
	h.sends("it alone", flock("7 "+a+" six"), 429, "This number calls too often", "")
	h.sends("its second STOP", flock("8 "+a+" stop"), 200, "8 1 0", "")
	if got := fmt.Sprint(h.outboxOf(phone)); got != "[Heard one Heard two Heard three]" {
		t.Errorf("the outbox has %s, want no answer to a STOP over the limit", got)
	}
	many := flock("1 "+b+" a", "2 "+b+" b", "3 "+b+" c", "4 "+b+" d", "5 "+b+" e", "6 "+b+" f", "9 "+b+" stop")
	h.sends("more items than are taken", many, 413, "7 items", "stop")

	h = described(t, birds(), func(o *gateway.Options) {
		o.Networks[0].Limits = limit.Set{CallsAMinute: 2}
	})
	h.sends("more in one call than the network may send in a minute",
		flock("1 "+a+" one", "2 "+a+" two", "3 "+a+" three"), 200, "3 0", "one two three")
	next := flock("3 "+a+" three", "4 "+a+" four", "5 "+b+" stop")
	h.sends("the next call", next, 429, "more calls a minute", "stop")
	h.clock.Advance(time.Minute)
	h.sends("a minute later", next, 200, "3 4 5 3 0", "four")
}

// The items of forms, of XML, and of a JSON list at the root, with an id or a phone of the whole call.
func TestPlacesOfItems(t *testing.T) {
	t.Parallel()
	reply := &profile.ReplySpec{Type: "text/plain", Body: "{{.ID}} {{.Kept}}"}
	spec := func(body, each, id, phone, text string) profile.Spec {
		return profile.Spec{SMS: &profile.SMSSpec{CallSpec: profile.CallSpec{Body: body, Reply: reply},
			Each: each, ID: id, Phone: phone, Text: text}}
	}
	typed := func(media string) func(*http.Request) { return header("Content-Type", media) }
	t.Run("form", func(t *testing.T) {
		t.Parallel()
		h := described(t, spec("form", "song", "request:flight", "nest", "song"))
		call := "flight=f1&nest=07700900123&song=one&nest=07700900124&song=stop"
		h.sends("two", call, 200, "f1 2", "one stop", asForm)
		h.sends("two again", call, 200, "f1 2", "", asForm)
		h.sends("an id twice", "flight=f&flight=g&nest=07700900123&song=one", 400, "more than one", "", asForm)
		h.sends("a phone too few", "flight=f2&nest=07700900123&song=a&song=b", 400, "key has 1, the key song has 2",
			"", asForm)
		h.sends("too many phones", call+"&nest=07700900125", 400, "key has 3, the key song has 2", "", asForm)
		h.sends("nothing", "flight=f3", 400, "no item", "", asForm)
		h.sends("a common phone", "flight=f4&song=a&song=b", 400, "no phone number", "", asForm)
		many := "flight=f5" + strings.Repeat("&nest=07700900123&song=x", 100)
		h.sends("a hundred", many, 200, "f5 100", strings.TrimSpace(strings.Repeat("x ", 100)), asForm)
	})
	t.Run("xml", func(t *testing.T) {
		t.Parallel()
		h := described(t, spec("xml", "/flock/bird", "/flock/@flight", "../@nest", "song"))
		call := `<flock flight="f1" nest="07700900123"><bird><song>one</song></bird>` +
			`<bird><song>stop</song></bird></flock>`
		h.sends("two", call, 200, "f1 2", "one stop", typed("text/xml"))
		h.sends("two again", call, 200, "f1 2", "", typed("text/xml"))
		h.sends("none", `<flock flight="f1" nest="07700900123"/>`, 400, "no item", "", typed("text/xml"))
		h.sends("songs", `<flock flight="f2" nest="07700900123"><bird><song>a</song><song>b</song></bird></flock>`,
			400, "more than one", "", typed("text/xml"))
	})
	t.Run("json", func(t *testing.T) {
		t.Parallel()
		h := described(t, spec("json", "#", "header:X-Flight", "/0", "/1"))
		call, flight := `[["07700900123","one"],["07700900124","stop"]]`, header("X-Flight", "f1")
		h.sends("two", call, 200, "f1 2", "one stop", flight)
		h.sends("two again", call, 200, "f1 2", "", flight)
		h.sends("one more, of another call", call, 200, "f2 2", "one stop", header("X-Flight", "f2"))
	})
}

// A call with further items that the description does not read is refused, because they would be lost.
func TestFurtherItemsAreRefused(t *testing.T) {
	t.Parallel()
	const each = "The key each"
	json := func(id, phone, text string) profile.Spec {
		return profile.Spec{SMS: &profile.SMSSpec{CallSpec: profile.CallSpec{Body: "json"},
			ID: id, Phone: phone, Text: text}}
	}
	bird := `{"ring":"1","nest":"07700900123","song":"one"}`
	h := described(t, json("/birds/0/ring", "/birds/0/nest", "/birds/0/song"))
	h.sends("a list of one", `{"birds":[`+bird+`]}`, 202, "", "one")
	h.sends("a list of two", `{"birds":[`+bird+`,`+bird+`]}`, 400, each, "")
	h = described(t, json("/ring", "/nest", "/song"))
	h.sends("a list at the root", "["+bird+"]", 400, each, "")
	h.sends("lists of values", `{"ring":["1","2"],"nest":"07700900123","song":["one","stop"]}`, 400, each, "")
	h = described(t, json("/0", "/1", "/2"))
	h.sends("a list of described members", `["1","07700900123","one","12345"]`, 202, "", "one")
	h = described(t, json("/birds/ring", "/birds/nest", "/birds/song"))
	h.sends("a list and not an object", `{"birds":[`+bird+`]}`, 400, each, "")

	local := profile.Default("tern")
	local.Token = profile.HashToken(token)
	h = open(t, func(o *gateway.Options) { o.Networks = []profile.Profile{local} })
	own := `{"id":"1","phone":"+447700900123","text":"one"}`
	h.sends("our own format", own, 202, "", "one")
	h.sends("our own format in a list", "["+own+"]", 400, "the key each", "")

	spec := json("/flock/bird/@ring", "/flock/bird/@nest", "/flock/bird")
	spec.SMS.Body = "xml"
	h = described(t, spec)
	xml, asXML := `<bird ring="1" nest="07700900123">one</bird>`, header("Content-Type", "text/xml")
	h.sends("one element", "<flock>"+xml+"</flock>", 202, "", "one", asXML)
	h.sends("two elements", "<flock>"+xml+xml+"</flock>", 400, "the key each", "", asXML)

	spec = json("ring", "nest", "song")
	spec.SMS.Body = "form"
	h = described(t, spec)
	h.sends("a key twice", "ring=1&nest=07700900123&song=one&song=two", 400, "the key each", "", asForm)
	if !strings.Contains(h.log.String(), "the key each") {
		t.Errorf("the log does not say what to do: %s", h.log)
	}
}

func TestSeveralReceipts(t *testing.T) {
	t.Parallel()
	h := described(t, birds())
	for _, key := range []string{"k1", "k2", "k3"} {
		h.enqueue(key, morning)
	}
	h.sent("tern", "")
	asXML := header("Content-Type", "text/xml")
	body := `<flock><egg ring="k1">hatched</egg><egg>hatched</egg><egg ring="k2">broken</egg>` +
		`<egg ring="k9">hatched</egg><egg ring="k3">unheard</egg></flock>`
	for range 2 {
		h.wants(204, h.post("/in/tern/receipt", body, asXML))
		var states []store.State
		for _, m := range h.outbox() {
			states = append(states, m.State)
		}
		if got := fmt.Sprint(states); got != "[delivered refused accepted]" {
			t.Errorf("the texts are %s", got)
		}
	}
	h.wants(400, h.post("/in/tern/receipt", `<flock><egg>hatched</egg></flock>`, asXML))
	h.wants(400, h.post("/in/tern/receipt", `<flock/>`, asXML))
	h.wants(413, h.post("/in/tern/receipt", `<flock>`+strings.Repeat(`<egg/>`, 101)+`</flock>`, asXML))
}

// A network that signs its calls has the id of a call in the header webhook-id. An id that a text has for itself counts
// more, because a network may send the text again in another call.
func TestSignedCallsWithSeveralTexts(t *testing.T) {
	t.Parallel()
	for id, want := range map[string][3]string{
		"/ring":          {"one stop", "", "two"},      // only a text with a new id is new
		"request:/flock": {"one stop", "", "stop two"}, // all texts of a call with a new webhook-id are new
	} {
		spec := birds()
		spec.SMS.ID, spec.SMS.Reply, spec.Receipt, spec.CountryCode = id, nil, nil, "44"
		spec.Trust = &profile.TrustSpec{By: "signature", Secrets: []string{"SECRET"}}
		p := must(spec.Build("tern", func(string) (string, error) { return signingSecret, nil }))
		h := open(t, func(o *gateway.Options) { o.Networks = []profile.Profile{p} })
		send := func(webhookID, body, texts string) {
			t.Helper()
			body = swap(body, "{", `{"flock":"f",`)
			h.sends(webhookID, body, 202, "", texts, header("webhook-id", webhookID),
				header("webhook-timestamp", fmt.Sprint(morning.Unix())),
				header("webhook-signature", must(profile.Sign(signingSecret, webhookID, morning, []byte(body)))))
		}
		first := flock("1 7700900123 one", "2 7700900124 stop")
		send("w1", first, want[0])
		send("w1", first, want[1])
		send("w2", flock("2 7700900124 stop", "3 7700900123 two"), want[2])
	}
}
