package desk

import (
	"errors"
	"fmt"
	"html"
	"net/url"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/desk/say"
	"rowbell/store"
)

func numberOf(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))) }

// farmer registers a grower of a place with a plot that was transplanted so many days ago.
func (o *office) farmer(n int, place string, daysAgo int) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(numberOf(n), nine.Unix())
		if err != nil {
			return err
		}
		err = errors.Join(l.Consent("en", "1", "ussd"), l.SetPlace(place))
		if err == nil {
			_, err = l.AddPlot(engine.Plot{Label: "by the well", Method: engine.Transplanted, AreaM2: 800,
				Planted: l.Today() - engine.Day(daysAgo), RowSpacingCM: 25, Flood: engine.FloodKept},
				engine.Tool{WidthCM: 15})
		}
		return err
	})
}

// morningOffice has three growers in the north, one of whom needs nobody, and one in the south.
func morningOffice(t *testing.T) *office {
	o := newOffice(t)
	o.farmer(1, "north", 24)
	o.farmer(2, "north", 22)
	o.farmer(3, "north", 1)
	o.farmer(4, "south", 23)
	o.keep()
	return o
}

func (o *office) keep() {
	o.t.Helper()
	if _, refused, err := o.s.KeepAttention(o.t.Context(), o.clock.Now().Unix()); err != nil || refused > 0 {
		o.t.Fatalf("%d refused, %v", refused, err)
	}
}

func (o *office) season(n int) (s engine.Season) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(numberOf(n), nine.Unix())
		if err == nil {
			s, err = l.Season(1)
		}
		return err
	})
	return s
}

func has(t *testing.T, p page, wants ...string) {
	t.Helper()
	for _, want := range wants {
		if !strings.Contains(html.UnescapeString(p.Body), want) {
			t.Errorf("the page does not say %q:\n%s", want, p.Body)
		}
	}
}

func hasNot(t *testing.T, p page, wants ...string) {
	t.Helper()
	for _, want := range wants {
		if strings.Contains(html.UnescapeString(p.Body), want) {
			t.Errorf("the page says %q:\n%s", want, p.Body)
		}
	}
}

func TestMorningOfAFieldWorker(t *testing.T) {
	o := morningOffice(t)
	b := o.as("field")
	p := b.get("/desk/")
	a, err := o.season(1).Attention(engine.DayOf(nine, time.UTC), engine.Heard{})
	if err != nil || a.Reasons == 0 {
		t.Fatalf("%v, reasons %q", err, a.Reasons)
	}
	has(t, p, `href="tel:+447700900001"`, `href="tel:+447700900002"`, "<b>2</b> All", say.Why(a)[0],
		"Plot 1 by the well")
	hasNot(t, p, "7700900003", "7700900004", "south")
	has(t, p, `<div id="morning-list" data-live="`) // the script of the page renews it
	if len(p.Body) > 100_000 {
		t.Errorf("the page has %d octets", len(p.Body))
	}
	reason := a.Reasons.List()[0]
	has(t, b.get("/desk/?why="+url.QueryEscape(reason.String())), say.Label(reason), `aria-current="true"`)
	has(t, b.get("/desk/?why=silent"), "No plot with this reason")
	if got := b.get("/desk/?after=nonsense"); got.Status != 404 {
		t.Errorf("a key that is none: %d", got.Status)
	}
}

func TestMorningOfOthers(t *testing.T) {
	o := morningOffice(t)
	viewer := o.as("viewer").get("/desk/")
	has(t, viewer, "+4477…001", "<b>2</b> All")
	hasNot(t, viewer, "+447700900001", "tel:", "Not reached")
	op := o.as("op")
	has(t, op.get("/desk/"), "+447700900004", "south", "<b>3</b> All")
	south := op.get(fmt.Sprintf("/desk/?place=%d", o.south))
	has(t, south, "+447700900004", "<b>1</b> All")
	hasNot(t, south, "+447700900001")
}

func TestMorningInPages(t *testing.T) {
	o := newOffice(t)
	for n := range pageSize + 3 {
		o.farmer(n+1, "north", 24)
	}
	o.keep()
	b := o.as("field")
	p := b.get("/desk/")
	if n := strings.Count(p.Body, `href="tel:`); n != pageSize {
		t.Errorf("%d plots on the first page", n)
	}
	if len(p.Body) > 100_000 {
		t.Errorf("a full page has %d octets", len(p.Body))
	}
	_, rest, _ := strings.Cut(p.Body, `<a href="/desk/?after=`)
	key, _, _ := strings.Cut(rest, `"`)
	next := b.get("/desk/?after=" + key)
	if n := strings.Count(next.Body, `href="tel:`); n != 3 || strings.Contains(next.Body, "Next plots") {
		t.Errorf("%d plots on the second page:\n%s", n, next.Body)
	}
}

func TestContacts(t *testing.T) {
	o := morningOffice(t)
	b := o.as("field")
	first := func() string {
		_, rest, _ := strings.Cut(b.get("/desk/").Body, `href="tel:`)
		number, _, _ := strings.Cut(rest, `"`)
		return html.UnescapeString(number)
	}
	called := first()
	plot := "/desk/plot/1/contact"
	if called == "+447700900002" {
		plot = "/desk/plot/2/contact"
	}
	p := b.post(plot, "what", "not", "back", "/desk/?why=missed")
	has(t, p, "not reached", "Noted")
	if b.path != "/desk/?why=missed" {
		t.Errorf("back at %s", b.path)
	}
	if first() == called {
		t.Error("who was not reached is still the first")
	}
	has(t, b.get("/desk/"), "not reached today")

	has(t, b.get(plot+"?what=came"), called, "Came by", "Weeded on")
	p = b.post(plot, "what", "reached", "weeded", "yes", "on", "2026-06-01", "with", "tool", "left", "few", "amount",
		"", "leaves", "", "water", "mud", "seen", "2026-06-02")
	has(t, p, "Noted", "weeded 1 Jun, with the tool, few weeds left", "seen 2 Jun, water: mud")
	hasNot(t, b.get("/desk/"), "tel:"+called)
	n := int(called[len(called)-1] - '0')
	s := o.season(n)
	if len(s.Passes) != 1 || s.Passes[0].Left != engine.Few || len(s.Sightings) != 1 ||
		s.Sightings[0].Water != engine.StandsMud {
		t.Errorf("%+v, %+v", s.Passes, s.Sightings)
	}
	has(t, b.get("/desk/trail"), "logged a weeding", "logged what was seen", "not reached", "reached")

	again := b.post(plot, "what", "reached", "weeded", "yes", "on", "2026-06-01", "with", "tool", "left", "few",
		"amount", "", "leaves", "", "water", "", "seen", "")
	has(t, again, "A weeding on that day is logged already.")
	if s := o.season(n); again.Status != 422 || len(s.Passes) != 1 {
		t.Errorf("sent twice: status %d, %+v", again.Status, s.Passes)
	}
}

// After a half weeding "all of it" is the other half, as on the page of the plot.
func TestContactAfterAHalfWeeding(t *testing.T) {
	o := morningOffice(t)
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(numberOf(1), nine.Unix())
		if err != nil {
			return err
		}
		return l.LogPass(1, engine.Pass{On: l.Today() - 1, With: engine.ByTool, Share: 0.5})
	})
	p := o.as("field").post("/desk/plot/1/contact", "what", "reached", "weeded", "yes", "on", "2026-06-02", "with",
		"tool", "left", "", "amount", "", "leaves", "", "water", "", "seen", "")
	has(t, p, "Noted")
	if s := o.season(1); len(s.Passes) != 2 || s.Passes[1].Share != 0.5 {
		t.Errorf("%+v", s.Passes)
	}
}

func TestContactMistakes(t *testing.T) {
	o := morningOffice(t)
	b := o.as("field")
	good := []string{"what", "came", "weeded", "yes", "on", "2026-06-01", "with", "hand", "left", "", "amount", "",
		"leaves", "two", "water", "", "seen", "2026-06-02"}
	for _, c := range []struct{ name, value, says string }{
		{"on", "soon", "Give the day as in 2026-06-02."},
		{"on", "2026-06-03", "This day is still to come."},
		{"seen", "2026-04-03", "The plot was planted on"},
		{"seen", "", "Give the day"},
		{"leaves", "twelve", "Choose one of these."},
		{"what", "flew", "Choose one of these."},
		{"with", "", "Choose one of these."},
	} {
		form := append([]string{}, good...)
		for i := 0; i < len(form); i += 2 {
			if form[i] == c.name {
				form[i+1] = c.value
			}
		}
		p := b.post("/desk/plot/1/contact", form...)
		if p.Status != 422 {
			t.Errorf("%s=%s: status %d", c.name, c.value, p.Status)
		}
		has(t, p, c.says)
	}
	if s := o.season(1); len(s.Passes)+len(s.Sightings) != 0 {
		t.Errorf("something was stored: %+v %+v", s.Passes, s.Sightings)
	}
	for path, status := range map[string]int{"/desk/plot/4/contact": 404, "/desk/plot/99/contact": 404} {
		if p := b.post(path, good...); p.Status != status {
			t.Errorf("%s: %d", path, p.Status)
		}
	}
}

func TestContactIsTakenBack(t *testing.T) {
	o := morningOffice(t)
	b := o.as("field")
	b.post("/desk/plot/1/contact", "what", "reached", "weeded", "no", "leaves", "", "amount", "", "water", "")
	p := b.get("/desk/")
	has(t, p, "<b>1</b> All", "Reached today", `action="/desk/plot/1/contact/back"`, `name="contact" value="1"`)
	hasNot(t, o.as("viewer").get("/desk/"), "Reached today")
	for _, other := range []string{"2", "", "first"} {
		has(t, b.post("/desk/plot/1/contact/back", "contact", other), "nothing of today to take back", "<b>1</b> All")
	}
	p = b.post("/desk/plot/1/contact/back", "contact", "1", "back", "/desk/?why=missed")
	has(t, p, "Taken back for plot 1 by the well")
	p = b.get("/desk/")
	has(t, p, "<b>2</b> All", "tel:+447700900001")
	hasNot(t, p, "Reached today")
	has(t, b.get("/desk/trail"), "took back that the grower was reached")
}

func FuzzMorningKey(f *testing.F) {
	f.Add("0.-17000000.3")
	f.Add("1.0.9223372036854775807")
	f.Add("1..2")
	f.Fuzz(func(t *testing.T, text string) {
		k, err := morningKey(text)
		if err != nil || k == nil {
			return
		}
		again, err := morningKey(morningText(*k))
		if err != nil || *again != *k {
			t.Errorf("%q is read as %+v, and then as %+v (%v)", text, k, again, err)
		}
	})
}
