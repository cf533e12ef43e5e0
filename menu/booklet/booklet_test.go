package booklet

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"rowbell/menu"
	"rowbell/menu/text"
)

// must returns the value v, or panics if there is an error, so that a test needs no line for the error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// menuIn returns the menu in the given languages. The menu has no local units of area.
func menuIn(langs ...string) *menu.Menu {
	return must(menu.New(must(must(text.Default()).Only(langs...)), menu.Options{}))
}

// hostileUnit is the name of a local unit of area, as an operator could set it. It breaks the booklet's HTML page
// unless the page escapes it.
const hostileUnit = `<b>&"acre`

// wholeBooklet returns the booklet of the whole menu, in three of its languages or, if CI is set as in .ci/run, in all.
// All tests share one booklet, because making it takes long. So no test may change it.
var wholeBooklet = sync.OnceValue(func() Booklet {
	units := []menu.AreaUnit{{Name: hostileUnit, M2: 1337.8}}
	m := must(menu.New(must(text.Default()), menu.Options{Units: units}))
	if os.Getenv("CI") != "" {
		return must(Make(m, m.Languages()...))
	}
	return must(Make(m, "en", "hi", "sw"))
})

// sideOf returns the index of a language among the languages of the booklet.
func sideOf(b Booklet, lang string) int {
	return slices.IndexFunc(b.Languages, func(l Language) bool { return l.Tag == lang })
}

// screensOf lists the booklet's screens, sorted by number.
func screensOf(b Booklet) []Screen {
	var all []Screen
	for _, c := range b.Chapters {
		all = append(all, c.Screens...)
	}
	return all
}

// numbersOf returns the number of each screen.
func numbersOf(b Booklet) map[menu.ScreenID]int {
	numbers := map[menu.ScreenID]int{}
	for _, s := range screensOf(b) {
		numbers[s.ID] = s.Number
	}
	return numbers
}

// TestBookletIsWhole checks that every screen of the menu is in the booklet once, with all its declared answers, and
// that the booklet has every screen to which an answer leads. The test uses several languages, because the menu shows
// its lists of languages only then.
func TestBookletIsWhole(t *testing.T) {
	b := wholeBooklet()
	all := screensOf(b)
	count := map[menu.ScreenID]int{}
	for i, s := range all {
		count[s.ID]++
		if s.Number != i+1 || len(s.Faces) != len(b.Languages) {
			t.Errorf("%s: number %d in place %d, in %d languages", s.ID, s.Number, i+1, len(s.Faces))
		}
		for _, f := range s.Faces {
			wantFace(t, s.ID, f, len(all))
		}
	}
	for _, s := range menuIn("en", "sw").Screens() {
		if count[s.ID] != 1 {
			t.Errorf("%s stands %d times in the booklet: 0 means that no sample grower comes to it", s.ID, count[s.ID])
			continue
		}
		for _, f := range all[slices.IndexFunc(all, func(a Screen) bool { return a.ID == s.ID })].Faces {
			for _, o := range s.Choices {
				label := must(must(text.Default()).Text(f.Lang, o.Label, o.Args))
				isIt := func(l Line) bool { return strings.HasSuffix(l.Text, " "+label) }
				if !slices.ContainsFunc(f.answers(), isIt) {
					t.Errorf("%s in %s: no sample grower is offered %s", s.ID, f.Lang, o.Label)
				}
			}
		}
	}
}

// wantFace checks a screen in one language: it must have text, all values must be filled in, and its answers must lead
// to screens that exist.
func wantFace(t *testing.T, id menu.ScreenID, f Face, screens int) {
	t.Helper()
	lines := f.answers()
	if f.Typed != nil {
		lines = append(lines, *f.Typed)
	}
	for _, l := range lines {
		if !l.IsAnswer() {
			t.Errorf("%s in %s: %q leads nowhere", id, f.Lang, l.Text)
		}
		for _, n := range l.To {
			if n < 1 || n > screens {
				t.Errorf("%s in %s: %q leads to %d, of %d", id, f.Lang, l.Text, n, screens)
			}
		}
	}
	for _, page := range f.Pages {
		for _, l := range page {
			if strings.TrimSpace(l.Text) == "" || strings.ContainsAny(l.Text, "{}") {
				t.Errorf("%s in %s has the line %q", id, f.Lang, l.Text)
			}
		}
	}
	if len(f.Pages) == 0 {
		t.Errorf("%s in %s says nothing", id, f.Lang)
	}
}

// TestAnswersLeadWhereTheMenuLeads checks answers of three kinds: always offered, offered only to some growers, and
// lines of a list.
func TestAnswersLeadWhereTheMenuLeads(t *testing.T) {
	b := wholeBooklet()
	numbers, side := numbersOf(b), sideOf(b, "en")
	for _, c := range []struct {
		on   menu.ScreenID
		line string
		to   []menu.ScreenID // screens that the answer must lead to; empty: the answer must lead back
	}{
		{"home", "1 new plot", []menu.ScreenID{"new.method"}},
		{"home", "2 my plots", []menu.ScreenID{"plot", "plots", "plots.none"}}, // growers with one, several, no plots
		{"plots", "1 Plot 1", []menu.ScreenID{"plot", "pass.when", "see.leaves"}},
		{"more", "3 stop all texts", []menu.ScreenID{"stop"}},
		{"more", "3 start texts again", []menu.ScreenID{"started"}}, // offered only to growers who stopped the texts
		{"erase", "1 yes, delete", []menu.ScreenID{"erased"}},       // an answer that ends the dialogue
		{"tongue", "6 Kiswahili", []menu.ScreenID{"welcome"}},
		{"language", "6 Kiswahili", nil},
		{"new.area.unit", "1 " + hostileUnit, []menu.ScreenID{"new.area.many"}},
		{"costs.tell", "1 a new tool", []menu.ScreenID{"costs.tool", "costs.own"}},
	} {
		s := screensOf(b)[numbers[c.on]-1]
		i := slices.IndexFunc(s.Faces[side].answers(), func(l Line) bool { return strings.HasPrefix(l.Text, c.line) })
		if i < 0 {
			t.Errorf("%s has no answer %q", c.on, c.line)
			continue
		}
		var want []int
		for _, id := range c.to {
			want = append(want, numbers[id])
		}
		if l := s.Faces[side].answers()[i]; !slices.Equal(l.To, want) || l.Back != (c.to == nil) {
			t.Errorf("%s, %q leads to %v, back %v; want %v", c.on, l.Text, l.To, l.Back, want)
		}
	}
}

// TestChaptersFollowTheMenu checks that the booklet begins with dialling and then with registering a plot. The chapter
// titles must be words of the menu, and no chapter may be empty or too long.
func TestChaptersFollowTheMenu(t *testing.T) {
	b := wholeBooklet()
	numbers := numbersOf(b)
	order := []menu.ScreenID{"tongue", "welcome", "home", "new.method", "new.when", "new.water", "new.spacing", "saved",
		"plot", "pass.when", "see.leaves", "tools", "more", "help"}
	for i, id := range order[1:] {
		if before := order[i]; numbers[before] >= numbers[id] {
			t.Errorf("%s is %d, and %s is %d", before, numbers[before], id, numbers[id])
		}
	}
	for lang, want := range map[string]string{"en": "new plot", "sw": "shamba jipya"} {
		side := sideOf(b, lang)
		if call, second := b.Chapters[0].Titles[side], b.Chapters[1].Titles[side]; call != "*123#" || second != want {
			t.Errorf("%s: the first chapters are called %q and %q", lang, call, second)
		}
	}
	for _, c := range b.Chapters {
		if len(c.Screens) > maxChapter || len(c.Screens) < 2 {
			t.Errorf("chapter %d has %d screens", c.Number, len(c.Screens))
		}
	}
}

// TestNumbersAreTheSameInEveryLanguage checks that a screen has the same number in the booklets of all languages. A
// trainer may say "look at number 12" to growers of different languages.
func TestNumbersAreTheSameInEveryLanguage(t *testing.T) {
	m := menuIn("en", "hi")
	want := numbersOf(must(Make(m, "en")))
	for id, n := range numbersOf(must(Make(m, "hi"))) { // in Hindi some screens have more pages than in English
		if want[id] != n {
			t.Errorf("%s is %d in hi and %d in en", id, n, want[id])
		}
	}
	if want["new.area.unit"] != 0 || want["new.area"] == 0 {
		t.Error("a screen of local units, which are not set up, is in the booklet")
	}
}

func TestMakeInOneLanguageAndInNone(t *testing.T) {
	m := menuIn("en")
	if n := numbersOf(must(Make(m, "en"))); n["tongue"] != 0 || n["language"] != 0 || n["welcome"] != 1 {
		t.Errorf("where there is one language, none is chosen: %v", n)
	}
	if _, err := Make(m, "sw"); err == nil || !strings.Contains(err.Error(), `no language "sw"; it has en`) {
		t.Errorf("a language that is not offered: %v", err)
	}
}

// page is what the test's XML parser finds in the booklet's HTML page.
type page struct {
	ids    map[string]int
	links  []string         // targets of the links, without the "#"
	frames map[string]int   // number of screens; the key is the language
	index  map[string][]int // screen numbers in the index; the key is the language
	text   string
}

func read(b Booklet) page {
	var out strings.Builder
	must(0, b.HTML(&out))
	p := page{ids: map[string]int{}, frames: map[string]int{}, index: map[string][]int{}}
	indexed := ""
	for d := xml.NewDecoder(strings.NewReader(out.String())); ; { // strict: fails if the page is not well-formed
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return p
		}
		must(token, err)
		switch e := token.(type) {
		case xml.CharData:
			p.text += string(e)
		case xml.EndElement:
			if e.Name.Local == "ol" {
				indexed = ""
			}
		case xml.StartElement:
			a := map[string]string{}
			for _, attr := range e.Attr {
				a[attr.Name.Local] = attr.Value
			}
			if a["id"] != "" {
				p.ids[a["id"]]++
			}
			if a["class"] == "frame" {
				p.frames[a["lang"]]++
			}
			if a["class"] == "index" {
				indexed = a["lang"]
			}
			if a["href"] != "" {
				to := strings.TrimPrefix(a["href"], "#")
				p.links = append(p.links, to)
				if indexed != "" {
					n, _ := strconv.Atoi(strings.TrimPrefix(to, "s"))
					p.index[indexed] = append(p.index[indexed], n)
				}
			}
		}
	}
}

// TestPage checks that the page is well-formed, that each screen is in it once for each language, that every link has a
// target, that the index has every screen once, and that names which an operator has set are escaped.
func TestPage(t *testing.T) {
	b := wholeBooklet()
	p := read(b)
	n := len(screensOf(b))
	for _, l := range b.Languages {
		lang := l.Tag
		slices.Sort(p.index[lang])
		if p.frames[lang] != n || len(p.index[lang]) != n || len(slices.Compact(p.index[lang])) != n {
			t.Errorf("%s: %d screens shown and %d in the index, of %d", lang, p.frames[lang], len(p.index[lang]), n)
		}
	}
	if !strings.Contains(p.text, "1 "+hostileUnit) {
		t.Error("the local unit is not read back as it was set")
	}
	for id, times := range p.ids {
		if times != 1 {
			t.Errorf("%s stands %d times", id, times)
		}
	}
	for i := range n {
		if p.ids["s"+strconv.Itoa(i+1)] == 0 {
			t.Errorf("screen %d is not there", i+1)
		}
	}
	for _, to := range p.links {
		if p.ids[to] == 0 {
			t.Errorf("a link leads to %s, which is not there", to)
		}
	}
}

// TestIndexIsInAlphabeticalOrder checks the order of the titles. The test ignores accents and capitals.
func TestIndexIsInAlphabeticalOrder(t *testing.T) {
	b := wholeBooklet()
	var titles []string
	for _, e := range b.Languages[sideOf(b, "en")].Index {
		titles = append(titles, strings.ToLower(e.Title))
	}
	at := func(title string) int { return slices.Index(titles, title) }
	pairs := [][2]string{{"change", "safety"}, {"how many people?", "hurts the rice"},
		{"row and plant distance", "which plot?"}}
	for _, pair := range pairs {
		if a, b := at(pair[0]), at(pair[1]); a < 0 || b < 0 || a > b {
			t.Errorf("%q is at %d and %q at %d", pair[0], a, pair[1], b)
		}
	}
}

func TestOutline(t *testing.T) {
	b := wholeBooklet()
	var out strings.Builder
	must(0, b.Outline(&out))
	n := numbersOf(b)
	for _, want := range []string{
		"\n2. new plot | ",
		"\n" + strings.Repeat(" ", 9) + "1 yes → " + strconv.Itoa(n["home"]) + "\n",
		"6 Kiswahili ↩\n",
		`"271828" → ` + strconv.Itoa(n["number.done"]) + "\n",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the outline lacks %q:\n%.1500s", want, out.String())
		}
	}
	for line := range strings.Lines(out.String()) {
		if strings.TrimRight(line, " \n") != strings.TrimRight(line, "\n") {
			t.Errorf("%q ends with a space", line)
		}
	}
}
