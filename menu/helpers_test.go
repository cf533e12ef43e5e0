package menu

import (
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// All tests share the menu in English and the menu in every language, because a menu is immutable.
var (
	newMenu   = sync.OnceValue(func() *Menu { return menuIn("en") })
	everyMenu = sync.OnceValue(func() *Menu { return menuIn(must(text.Default()).Languages()...) })
)

// menuIn builds the menu in these languages, with two local units of area, so that no screen is left out.
func menuIn(langs ...string) *Menu {
	units := []AreaUnit{{Name: "bigha", M2: 1337.8}, {Name: "katha", M2: 66.9}}
	return must(New(must(must(text.Default()).Only(langs...)), Options{Units: units}))
}

// must returns the value v, or panics if there is an error, so that a test needs no line for the error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// wednesday is the date of today in most tests of this package.
var wednesday = engine.Date(2026, time.November, 25)

// newBook returns the records of an unknown phone number.
func newBook() *notebook.Book {
	return &notebook.Book{Day: wednesday, Climate: engine.Steady(22, 32), Seasons: map[int]engine.Season{}}
}

// knownBook returns the records of a registered grower without a plot.
func knownBook() *notebook.Book {
	b := newBook()
	b.Registered, b.Lang = true, "en"
	return b
}

// bookOf returns the records of a grower whose plots are numbered 1, 2 and so on.
func bookOf(plots ...engine.Season) *notebook.Book {
	b := knownBook()
	for i, s := range plots {
		b.Seasons[i+1] = s
	}
	return b
}

// inRows returns a plot with this row spacing and this tool, which was planted 20 days before wednesday.
func inRows(cm float64, tool engine.Tool) engine.Season {
	return engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: wednesday - 20, RowSpacingCM: cm},
		Tool: tool, Weather: engine.Steady(22, 32)}
}

// due returns a plot whose window is open on wednesday. The plot was planted 14 days before, and the mean temperature
// is 27 °C.
func due() engine.Season {
	s := inRows(20, engine.Tool{WidthCM: 15})
	s.Plot.Planted, s.Plot.HillSpacingCM = wednesday-14, 20
	return s
}

// edit changes the season of the open plot no in the book.
func edit(b *notebook.Book, no int, change func(*engine.Season)) {
	s := b.Seasons[no]
	change(&s)
	b.Seasons[no] = s
}

// longLabel is one of the widest names that a plot can have. With it the tests check that a text is not too long.
var longLabel = strings.Repeat("W", 10)

// newcomer returns the records of an unknown phone number. The operator has set up as many places as one screen can
// list.
func newcomer() *notebook.Book {
	b := newBook()
	b.PlaceNames, b.Place = slices.Repeat([]string{longLabel}, MaxPlaces), longLabel
	return b
}

// phone acts as a grower who uses the menu by USSD.
type phone struct {
	t     testing.TB
	m     *Menu
	b     *notebook.Book
	state []byte
	last  Reply
}

// dials returns the phone of a grower who has dialled a code.
func dials(t testing.TB, m *Menu, b *notebook.Book, code string) *phone {
	t.Helper()
	return (&phone{t: t, m: m, b: b}).dial(code)
}

// caller returns the phone of a grower who has dialled the menu in English.
func caller(t testing.TB, b *notebook.Book) *phone {
	t.Helper()
	return dials(t, newMenu(), b, "*123#")
}

// shows stores what the menu returned. The methods shows, dial, enter and wants return the phone, so that a test can
// chain calls.
func (p *phone) shows(state []byte, r Reply, err error) *phone {
	p.state, p.last = state, must(r, err)
	return p
}

// dial dials a code again with the state of the last dialogue, as after a dropped call.
func (p *phone) dial(code string) *phone { return p.shows(p.m.Dial(p.b, USSD, p.state, code)) }

// enter types one entry after the other and keeps the last reply.
func (p *phone) enter(entries ...string) *phone {
	for _, e := range entries {
		p.shows(p.m.Enter(p.b, USSD, p.state, e))
	}
	return p
}

func (p *phone) wants(parts ...string) *phone {
	p.t.Helper()
	wants(p.t, p.last.Text, parts...)
	return p
}

func (p *phone) lacks(parts ...string)    { p.t.Helper(); lacks(p.t, p.last.Text, parts...) }
func (p *phone) has(part string) bool     { return strings.Contains(p.last.Text, part) }
func (p *phone) plays(lines ...string)    { p.t.Helper(); plays(p.t, p.enterOne, lines...) }
func (p *phone) enterOne(e string) string { p.t.Helper(); return p.enter(e).last.Text }

// plays runs a script. Each line is "entry => part | part": plays types the entry, and each part must be in the text
// that is then shown.
func plays(t testing.TB, enter func(string) string, lines ...string) {
	t.Helper()
	for _, line := range lines {
		entry, parts, _ := strings.Cut(line, " => ")
		wants(t, enter(entry), strings.Split(parts, " | ")...)
	}
}

func wants(t testing.TB, shown string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if !strings.Contains(shown, part) {
			t.Fatalf("%q is not in\n%s", part, shown)
		}
	}
}

func lacks(t testing.TB, shown string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if strings.Contains(shown, part) {
			t.Errorf("%q is in\n%s", part, shown)
		}
	}
}

// texter acts as a grower who uses the menu by SMS. It holds the dialogue and the prompt in memory, as the gateway
// holds them in the store.
type texter struct {
	t      testing.TB
	m      *Menu
	b      *notebook.Book
	now    int64
	state  []byte
	at     int64 // when the dialogue last showed a screen
	prompt []byte
	asked  int64 // when the prompt was asked
	until  int64 // last second in which the prompt is valid
	reply  string
	kind   string

	last     bool // the next text is the last one that is answered if it is not understood
	progress bool
}

// texts returns a grower who uses the menu by SMS in English.
func texts(t testing.TB, b *notebook.Book) *texter {
	return &texter{t: t, m: newMenu(), b: b, now: 1000}
}

// withPlots returns a grower who uses SMS and has n plots. The windows of all n plots are open.
func withPlots(t testing.TB, n int) *texter {
	x := texts(t, knownBook())
	for no := 1; no <= n; no++ {
		x.b.Seasons[no] = due()
	}
	return x
}

// inbound returns the text s as an Inbound, with the dialogue and the prompt that the texter holds.
func (x *texter) inbound(s string) Inbound {
	return Inbound{Text: s, State: x.state, StateAt: x.at, Prompt: x.prompt, PromptAt: x.asked,
		PromptUntil: x.until, Now: x.now, Last: x.last}
}

func (x *texter) text(s string) string {
	out := must(x.m.Text(x.b, x.inbound(s)))
	if out.Spoke {
		x.at = x.now
	}
	x.state, x.reply, x.kind, x.progress = out.State, out.Reply, out.Kind, out.Progress
	switch {
	case out.PromptSet:
		x.ask(out.Prompt, out.PromptEnd)
	case out.Again:
		x.prompt, x.asked = out.Prompt, x.now
	case out.Prompt == nil:
		x.prompt = nil
	}
	x.now++
	return out.Reply
}

func (x *texter) ask(prompt []byte, end engine.Day) {
	x.prompt, x.asked, x.until = prompt, x.now, x.now+int64(end-x.b.Day+1)*86400
}

// ring sends the grower today's reminder about the plots with these numbers.
func (x *texter) ring(nos ...int) {
	x.t.Helper()
	var bells []Bell
	for _, no := range nos {
		s := x.b.Seasons[no]
		p := must(s.Plan(x.b.Day))
		r, why := p.Reminder(nil)
		if why != engine.NotSilent {
			x.t.Fatalf("plot %d has nothing to say: %v", no, why)
		}
		bells = append(bells, Bell{No: no, Season: s, Plan: p, Reminder: r})
	}
	r := must(x.m.Ring("en", bells...))
	x.reply = r.Text
	x.ask(r.Prompt, r.PromptEnd)
	x.now++
}

func (x *texter) wants(parts ...string) { x.t.Helper(); wants(x.t, x.reply, parts...) }
func (x *texter) plays(lines ...string) { x.t.Helper(); plays(x.t, x.text, lines...) }

// passes counts the logged passes of plot 1 and plot 2.
func (x *texter) passes() (n [2]int) {
	for i := range n {
		n[i] = len(x.b.Seasons[i+1].Passes)
	}
	return n
}

// logs adds a pass with the tool, as if the grower had meanwhile logged the pass by USSD.
func (x *texter) logs(no int) {
	must(0, x.b.LogPass(no, engine.Pass{On: x.b.Day, With: engine.ByTool}))
}

// The functions numberEN, writtenEN and estimatedEN write numbers in the form in which English screens show them.

func numberEN(x float64) string    { return figures(number(x)) }
func writtenEN(x float64) string   { return figures(written(x)) }
func estimatedEN(x float64) string { return figures(estimated(x)) }

func figures(d text.Decimal) string { return strconv.FormatFloat(d.Value, 'f', -1, 64) }

// plantedOn reads a planting date as the menu does in the language lang. Today is wednesday.
func plantedOn(m *Menu, lang, entry string) (engine.Day, answer.Doubt[engine.Day], *Refusal) {
	return answer.Date(entry, wednesday, answer.PlantedReach, m.dates[lang])
}
