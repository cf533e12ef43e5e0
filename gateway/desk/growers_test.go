package desk

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/store"
)

const (
	ana  store.Phone = "+447700900001"
	ben  store.Phone = "+447700900002"
	cleo store.Phone = "+447700900003"
)

// grower adds a grower with a plot at a place, and returns the ids of both.
func (o *office) grower(p store.Phone, name, place string) (grower, plot int64) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(p, nine.Unix())
		if err != nil {
			return err
		}
		if err := l.Consent("en", "words", "ussd"); err != nil {
			return err
		}
		if err := l.SetPlace(place); err != nil {
			return err
		}
		if err := l.SetName(name); err != nil {
			return err
		}
		no, err := l.AddPlot(engine.Plot{Label: "well", Method: engine.Transplanted, Planted: l.Today() - 20,
			AreaM2: 1000, RowSpacingCM: 25, HillSpacingCM: 25}, engine.Tool{WidthCM: 15})
		if err != nil {
			return err
		}
		grower = l.GrowerID()
		plot, err = l.PlotID(no)
		return err
	})
	return grower, plot
}

// season returns the season of a plot as it is stored.
func (o *office) sheet(plot int64) (s store.PlotSheet) {
	o.t.Helper()
	if err := o.s.View(o.t.Context(), func(tx *store.Tx) (err error) {
		s, err = tx.PlotSheet(plot)
		return err
	}); err != nil {
		o.t.Fatal(err)
	}
	return s
}

// line returns a grower as it is stored.
func (o *office) line(id int64) (g store.GrowerLine, there bool) {
	o.t.Helper()
	if err := o.s.View(o.t.Context(), func(tx *store.Tx) error {
		list, err := tx.GrowerLines([]int64{id}, nine.Unix())
		if len(list) == 1 {
			g, there = list[0], true
		}
		return err
	}); err != nil {
		o.t.Fatal(err)
	}
	return g, there
}

// trail returns what the newest entry of the trail says.
func (o *office) trail() string {
	o.t.Helper()
	var words string
	if err := o.s.View(o.t.Context(), func(tx *store.Tx) error {
		list, err := tx.TrailEntries(store.Scope{1, o.north, o.south}, store.TrailFilter{NoPlace: true}, 1)
		for _, e := range list {
			words = fmt.Sprintf("%s %s: %s → %s", e.Who, e.What, e.Was, e.Now)
		}
		return err
	}); err != nil {
		o.t.Fatal(err)
	}
	return words
}

// hidden returns the value of a hidden field of a page.
func (p page) hidden(t testing.TB, name string) string {
	t.Helper()
	m := regexp.MustCompile(`<input type="hidden" name="` + name + `" value="([^"]*)"`).FindStringSubmatch(p.Body)
	if m == nil {
		t.Fatalf("there is no hidden field %s in: %s", name, p.Body)
	}
	return strings.ReplaceAll(m[1], "&#43;", "+")
}

func TestListOfGrowers(t *testing.T) {
	o := newOffice(t)
	o.grower(ana, "Ana Traoré", "north")
	o.grower(ben, "", "north")
	o.grower(cleo, "Cleo", "south")
	field, viewer := o.as("field"), o.as("viewer")
	p := field.get("/desk/growers")
	p.has(t, 200, "Ana Traoré", "+447700900001", "+447700900002", "1 well")
	p.hasNot(t, "Cleo", "+447700900003")
	field.get("/desk/growers?q=traore").has(t, 200, "Ana Traoré")
	field.get("/desk/growers?q=07700+900+002").hasNot(t, "Ana")
	field.get("/desk/growers?q=nobody").has(t, 200, "Nobody is like that.")
	field.get(fmt.Sprint("/desk/growers?place=", o.south)).hasNot(t, "Cleo")
	field.get("/desk/growers?state=stopped").has(t, 200, "Nobody is like that.")
	field.get("/desk/growers?state=odd&after=x&circle=-1&silent=x").has(t, 200, "Ana Traoré")
	p = viewer.get("/desk/growers")
	p.has(t, 200, "+4477…001")
	p.hasNot(t, "Ana", "+447700900001", "Part of name")
	viewer.get("/desk/growers?q=900001").has(t, 200, "+4477…002") // a viewer cannot try numbers out
}

// The pages of a long list together have each grower once.
func TestListOfGrowersHasPages(t *testing.T) {
	o := newOffice(t)
	for i := range 120 {
		o.grower(store.Phone(fmt.Sprint("+", 447700900100+int64(i))), "", "north")
	}
	b, path, seen := o.as("field"), "/desk/growers", map[string]bool{}
	next := regexp.MustCompile(`class="next" href="([^"]*)"`)
	row := regexp.MustCompile(`href="/desk/grower/(\d+)"`)
	for pages := 1; ; pages++ {
		p := b.get(path)
		for _, m := range row.FindAllStringSubmatch(p.Body, -1) {
			if seen[m[1]] {
				t.Errorf("grower %s is twice in the list", m[1])
			}
			seen[m[1]] = true
		}
		m := next.FindStringSubmatch(p.Body)
		if m == nil {
			if pages != 3 || len(seen) != 120 {
				t.Errorf("%d growers on %d pages", len(seen), pages)
			}
			return
		}
		path = strings.ReplaceAll(m[1], "&amp;", "&")
	}
}

// A viewer sees neither name, number, note nor what staff wrote; nobody sees growers of other places.
func TestGrowerPageShowsWhatTheRoleMay(t *testing.T) {
	o := newOffice(t)
	id, plot := o.grower(ana, "Ana", "north")
	other, otherPlot := o.grower(cleo, "Cleo", "south")
	field := o.as("field")
	field.post(fmt.Sprintf("/desk/grower/%d/change", id), "name", "Ana", "note", "rings at noon", "language", "en",
		"place", "north").has(t, 200, "Stored.", "rings at noon", "changed the note")
	viewer := o.as("viewer")
	for _, path := range []string{fmt.Sprint("/desk/grower/", id), fmt.Sprint("/desk/plot/", plot)} {
		p := viewer.get(path)
		p.has(t, 200, "+4477…001")
		p.hasNot(t, "Ana", "+447700900001", "noon", "changed the note")
		if strings.Contains(p.Body, "447700900001") {
			t.Errorf("%s has the number of a grower", path)
		}
	}
	for _, path := range []string{fmt.Sprint("/desk/grower/", other), fmt.Sprint("/desk/plot/", otherPlot),
		fmt.Sprint("/desk/conversation/", other), "/desk/grower/999", "/desk/plot/999", "/desk/grower/x"} {
		field.get(path).has(t, 404, "Nothing here")
	}
}

func TestCorrectGrower(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	b, path := o.as("op"), fmt.Sprintf("/desk/grower/%d/change", id)
	p := b.post(path, "name", strings.Repeat("x", store.MaxGrowerName+1), "language", "xx", "place", "nowhere")
	p.has(t, 422, "Choose one of the list.")
	p = b.post(path, "name", strings.Repeat("x", store.MaxGrowerName+1), "language", "sw", "place", "south")
	p.has(t, 422, "At most 40 letters")
	if g, _ := o.line(id); g.Name != "Ana" || g.Language != "en" || g.PlaceName != "north" {
		t.Errorf("a form with a mistake changed %+v", g)
	}
	b.post(path, "name", "Mrs Ana", "language", "sw", "place", "south").has(t, 200, "Stored.", "Mrs Ana", "south")
	g, _ := o.line(id)
	if g.Name != "Mrs Ana" || g.Language != "sw" || g.PlaceName != "south" {
		t.Errorf("stored is %+v", g)
	}
	if got := o.trail(); got != "op changed the place: north → south" {
		t.Errorf("the trail says %q", got)
	}
}

func TestAddGrower(t *testing.T) {
	o := newOffice(t)
	o.grower(ben, "Ben", "south")
	b := o.as("field")
	const path = "/desk/growers/new"
	b.get(path).has(t, 200, "Number", "Language")
	typed := []string{"number", "00 44 7700 900001", "name", "Ana", "place", "north", "language", "sw", "how",
		"on the phone"}
	with := func(more ...string) []string { return append(append([]string{}, typed...), more...) }
	b.post(path, "number", "07700", "place", "south", "language", "sw", "how", "x").has(t, 422,
		"3 things are not right", "with + and the code of the country")
	b.post(path, "number", string(ben), "place", "north", "language", "sw", "how", "in person").has(t, 422,
		"This number has records already")
	p := b.post(path, typed...)
	p.has(t, 200, "+447 700 900 001", "Read these words", "Add the grower")
	if _, there := o.line(2); there {
		t.Fatal("the grower is stored before agreeing")
	}
	confirm := p.hidden(t, "confirm")
	b.post(path, with("confirm", confirm)...).has(t, 422, "Without the grower's yes nothing may be kept.")
	b.post(path, with("confirm", "+447700900009", "agreed", "yes")...).has(t, 200, "Read these words")
	b.post(path, with("confirm", confirm, "agreed", "yes")...).has(t, 200, "Added.")
	g, there := o.line(2)
	if !there || g.Phone != ana || g.Name != "Ana" || g.Language != "sw" || g.PlaceName != "north" ||
		g.ConsentChannel != "desk" {
		t.Fatalf("stored is %+v", g)
	}
	if got := o.trail(); got != "field added a grower:  → agreed on the phone" {
		t.Errorf("the trail says %q", got)
	}
	b.get("/desk/grower/2").has(t, 200, "given", "by staff, in Kiswahili", "hukutumia") // the words of the language
	b.get("/desk/conversation/2").has(t, 200, "welcome", "waits, due")
}

// A number that said STOP is told apart before it is added, and gets texts again when its grower agrees.
func TestAddGrowerWhoStopped(t *testing.T) {
	o := newOffice(t)
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(ana, nine.Unix())
		if err == nil {
			err = l.Stop()
		}
		return err
	})
	b := o.as("field")
	typed := []string{"number", string(ana), "place", "north", "language", "en", "how", "in person"}
	b.post("/desk/growers/new", typed...).has(t, 200, "This number said STOP earlier")
	b.post("/desk/growers/new", append(typed, "confirm", string(ana), "agreed", "yes")...).has(t, 200, "Added.")
	if g, _ := o.line(1); g.StoppedAt != 0 {
		t.Error("texts are stopped although the grower agreed")
	}
}

func TestMoveGrower(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	o.grower(ben, "Ben", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/grower/%d/move", id)
	b.get(path).has(t, 200, "New number")
	b.post(path, "number", "x").has(t, 422, "with + and the code of the country")
	b.post(path, "number", string(ana)).has(t, 422, "That is the present number.")
	b.post(path, "number", string(ben)).has(t, 422, "Two growers cannot have one number.")
	p := b.post(path, "number", "+44 7700 900003")
	p.has(t, 200, "Read the new number back", "+447 700 900 003")
	if g, _ := o.line(id); g.Phone != ana {
		t.Fatal("moved before it was confirmed")
	}
	b.post(path, "number", "+447700900004", "confirm", p.hidden(t, "confirm")).has(t, 200, "Read the new number back")
	b.post(path, "number", "+447700900003", "confirm", p.hidden(t, "confirm")).has(t, 200, "Moved to the new number.")
	if g, _ := o.line(id); g.Phone != cleo || g.Name != "Ana" {
		t.Errorf("stored is %s %q", g.Phone, g.Name)
	}
	if got := o.trail(); got != "field moved to a new number: +4477…001 → +4477…003" {
		t.Errorf("the trail says %q", got)
	}
}

func TestEraseGrower(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/grower/%d/erase", id)
	b.get(path).has(t, 200, "The last four digits")
	b.post(path, "digits", "0002").has(t, 422, "nothing was erased")
	if _, there := o.line(id); !there {
		t.Fatal("erased with wrong digits")
	}
	b.post(path, "digits", "0001").has(t, 200, "Erased.")
	if _, there := o.line(id); there {
		t.Error("the grower is still there")
	}
	if got := o.trail(); got != "field erased a grower:  → " {
		t.Errorf("the trail says %q", got)
	}
}

// A number that is somebody else's is taken from the records, which are erased or get another number.
func TestNumberOfSomebodyElse(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprint("/desk/grower/", id)
	b.post(path+"/number", "theirs", "no").has(t, 200, "no number now", "Give a number")
	if g, _ := o.line(id); g.Phone != "" || g.Name != "" {
		t.Errorf("stored is %s %q", g.Phone, g.Name)
	}
	b.get("/desk/growers?state=no-number").has(t, 200, "no number")
	b.post(path+"/move", "number", string(cleo), "confirm", string(cleo)).has(t, 200, "Moved to the new number.")
	if g, _ := o.line(id); g.Phone != cleo {
		t.Errorf("stored is %s", g.Phone)
	}
	b.post(path+"/number", "theirs", "no")
	b.get(path+"/erase").has(t, 200, fmt.Sprint("type ", id))
	b.post(path+"/erase", "digits", fmt.Sprint(id)).has(t, 200, "Erased.")
}

func TestStopAndStartTexts(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/grower/%d/texts", id)
	b.post(path, "texts", "stop").has(t, 200, "No texts are sent any more.", "wants no texts", "stopped")
	if g, _ := o.line(id); g.StoppedAt == 0 {
		t.Error("texts are not stopped")
	}
	b.post(path, "texts", "start").has(t, 200, "Texts are sent again.", "started")
	if g, _ := o.line(id); g.StoppedAt != 0 {
		t.Error("texts are not started")
	}
	o.clock.Set(nine.AddDate(0, 4, 0))
	b = o.as("field")
	b.get(fmt.Sprint("/desk/grower/", id)).has(t, 200, "not heard of since 2 Jun 2026", "I reached the grower")
	b.post(fmt.Sprintf("/desk/grower/%d/number", id), "theirs", "yes").has(t, http.StatusOK, "heard of today")
	b.get(fmt.Sprint("/desk/grower/", id)).hasNot(t, "not heard of since")
}
