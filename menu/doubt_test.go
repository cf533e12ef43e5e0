package menu

import (
	"strconv"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/notebook"
)

// askedBack is an entry that the menu may doubt. It holds the entries that lead to the screen, the doubted entry, how
// the entry was understood, and what is stored after the answers 1 and 2.
type askedBack struct {
	way          []string
	entry        string
	it           string // the doubted value that the question shows; "" if the entry is accepted without a question
	mend         string // the value offered instead; "" if none is offered
	kept, mended float64
}

// saved registers a plot with the entry and returns the records. If the entry is doubted, saved checks the question and
// the back key, and then gives the answer "1" or "2". rest are the entries that complete the registration.
func (a askedBack) saved(t *testing.T, rest []string, answer string) *notebook.Book {
	t.Helper()
	p := caller(t, knownBook()).enter(a.way...)
	before := p.last.Text
	p.enter(a.entry)
	if a.it == "" {
		if p.has("1 yes, ") || p.last.Text == before {
			t.Fatalf("%q is not simply taken:\n%s", a.entry, p.last.Text)
		}
	} else {
		p.wants(a.it, "1 yes, "+a.it)
		if a.mend != "" {
			p.wants("2 no: " + a.mend)
		} else if p.has("\n2 ") && !p.has("\n2 the rows are wrong") {
			t.Fatalf("%q offers something instead:\n%s", a.entry, p.last.Text)
		}
		p.enter("0")
		if p.last.Text != before {
			t.Fatalf("back from %q leads to\n%s\nnot to\n%s", a.entry, p.last.Text, before)
		}
		p.enter(a.entry, answer)
	}
	p.enter(rest...).wants("Saved: ")
	return p.b
}

// check answers the doubt with 1 and compares the stored value with kept. If another value is offered, check also
// answers with 2 and compares the stored value with mended. The function of reads the stored value from the season.
func (a askedBack) check(t *testing.T, rest []string, of func(engine.Season) float64) {
	t.Helper()
	if got := of(a.saved(t, rest, "1").Seasons[1]); got != a.kept {
		t.Errorf("%q: 1 saves %g, want %g", a.entry, got, a.kept)
	}
	if a.mend != "" {
		if got := of(a.saved(t, rest, "2").Seasons[1]); got != a.mended {
			t.Errorf("%q: 2 saves %g, want %g", a.entry, got, a.mended)
		}
	}
}

// These entries lead from the home screen to each question of a registration.
var (
	toWhen    = []string{"1", "1"}
	toWeeded  = []string{"1", "1", "5/11"}
	toSpacing = []string{"1", "1", "5/11", "1", "1"}
	toRows    = []string{"1", "1", "5/11", "1", "1", "3"}
	toMeasure = []string{"1", "1", "5/11", "1", "1", "3", "4"}
	toHills   = []string{"1", "1", "5/11", "1", "1", "3", "1"}
	toTool    = []string{"1", "1", "5/11", "1", "1", "1"}
	toArea    = []string{"1", "1", "5/11", "1", "1", "1", "1"}
)

// TestDoubtsOfARegistration types entries of three kinds into each question of a registration: the menu does not doubt
// the entry; the menu doubts the entry; the menu doubts the entry and offers another value. Package answer tests which
// entries are doubted.
func TestDoubtsOfARegistration(t *testing.T) {
	on := func(y int, m time.Month, d int) float64 { return float64(engine.Date(y, m, d)) }
	for _, q := range []struct {
		way, rest []string
		of        func(engine.Season) float64
		entries   []askedBack
	}{
		{toWhen, []string{"1", "1", "1", "1", "600"}, func(s engine.Season) float64 { return float64(s.Plot.Planted) },
			[]askedBack{
				{entry: "0511", kept: on(2026, 11, 5)}, {entry: "1105", it: "Thu 5 Nov", kept: on(2026, 11, 5)},
				{entry: "11/7", it: "Sat 11 Jul", mend: "Sat 7 Nov", kept: on(2026, 7, 11), mended: on(2026, 11, 7)},
				{entry: "5/11/25", it: "Thu 5 Nov 2026", kept: on(2026, 11, 5)}}},
		{toWeeded, []string{"1", "1", "1", "600"}, func(s engine.Season) float64 { return float64(s.Passes[0].On) },
			[]askedBack{{entry: "1811", kept: on(2026, 11, 18)},
				{entry: "18/11/25", it: "Wed 18 Nov 2026", kept: on(2026, 11, 18)}}},
		{toSpacing, []string{"4", "600"}, func(s engine.Season) float64 {
			return s.Plot.RowSpacingCM + s.Plot.HillSpacingCM/1000
		}, []askedBack{{entry: "20x25", kept: 20.025},
			{entry: "52x25", it: "52 x 25 cm", mend: "25 x 25 cm", kept: 52.025, mended: 25.025},
			{entry: "60*30", it: "60 x 30 cm", kept: 60.030}, {entry: "2025", it: "20 x 25 cm", kept: 20.025}}},
		{toSpacing, []string{"3", "4", "600"}, func(s engine.Season) float64 { return s.Plot.RowSpacingCM },
			[]askedBack{{entry: "22", kept: 22}, {entry: "250", it: "25 cm", kept: 25},
				{entry: "52", it: "52 cm", mend: "25 cm", kept: 52, mended: 25}}},
		{toRows, []string{"3", "4", "600"}, func(s engine.Season) float64 { return s.Plot.RowSpacingCM }, []askedBack{
			{entry: "22.5", kept: 22.5}, {entry: "60", it: "60 cm", kept: 60}, {entry: "250", it: "25 cm", kept: 25},
			{entry: "52", it: "52 cm", mend: "25 cm", kept: 52, mended: 25}}},
		{toMeasure, []string{"3", "4", "600"}, func(s engine.Season) float64 { return s.Plot.RowSpacingCM },
			[]askedBack{
				{entry: "220", kept: 22}, {entry: "22", it: "22 cm", kept: 22},
				{entry: "520", it: "52 cm", mend: "25 cm", kept: 52, mended: 25}}},
		{toHills, []string{"4", "600"}, func(s engine.Season) float64 { return s.Plot.HillSpacingCM }, []askedBack{
			{entry: "25", kept: 25}, {entry: "45", it: "45 cm", kept: 45}, {entry: "150", it: "15 cm", kept: 15},
			{entry: "52", it: "52 cm", mend: "25 cm", kept: 52, mended: 25}}},
		{toTool, []string{"600"}, func(s engine.Season) float64 { return s.Tool.WidthCM }, []askedBack{ // rows of 20 cm
			{entry: "51", it: "tool 51, rows 20 cm", mend: "tool 15, rows 20 cm", kept: 51, mended: 15},
			{entry: "20-25", it: "tool 20-25, rows 20 cm", kept: 20}, {entry: "150", it: "15 cm", kept: 15},
			{entry: "100-150", it: "10-15 cm", kept: 10}, {entry: "15", kept: 15},
			{entry: "18", kept: 18}}}, // 18 cm is too wide, but unlikely a typing mistake
		{toArea, nil, func(s engine.Season) float64 { return s.Plot.AreaM2 }, []askedBack{
			{entry: "200*300", it: "200 x 300 m", mend: "20 x 30 m", kept: 60000, mended: 600},
			{entry: "20 bigha", it: "20 bigha", mend: "2 bigha", kept: 26756, mended: 2675.6},
			{entry: "2*3", it: "2 x 3 m", kept: 6}, {entry: "40*50 steps", kept: 1125},
			{entry: "20.30", it: "20 x 30 m", mend: "20.3 m2", kept: 600, mended: 20.3},
			{entry: "10 100", it: "10 x 100 m", mend: "10100 m2", kept: 1000, mended: 10100},
			{entry: "2-3 acres", it: "2 acre", mend: "3 acre", kept: 8093.7, mended: 12140.6},
			{entry: "12", it: "12 m2", kept: 12},
			{entry: "2 ha", it: "2 ha", mend: "0.2 ha", kept: 20000, mended: 2000},
			{entry: "½ acre", kept: 2023.4}, {entry: "200 x 300 steps", it: "200 x 300 steps", mend: "20 x 30 steps",
				kept: 33750, mended: 337.5}}},
	} {
		for _, a := range q.entries {
			a.way = q.way
			a.check(t, q.rest, q.of)
		}
	}
}

// TestDoubtsOfAPlan checks that the screens that plan a planting also doubt entries.
func TestDoubtsOfAPlan(t *testing.T) {
	p := caller(t, knownBook()).enter("5", "2", "2")
	p.plays("51 => 51 cm. Is that right? | 2 no: 15 cm", "2 => Tool 15 cm wide: plant rows 20-25 cm apart.")
	p = caller(t, knownBook()) // this field gets the row spacing that suits the typed tool
	p.enter("5", "2", "1")
	p.plays("200*300 => 200 x 300 m. Is that right? | 2 no: 20 x 30 m", "2 => 20 m long, 30 m wide.")
	p.enter("3", "51")
	p.plays("2 => Rows 20 cm.")
}

func TestSlipsOfPlantingDates(t *testing.T) { // today is Wednesday 25 November 2026
	p := caller(t, knownBook())
	p.b.Day = engine.Date(2027, time.January, 10)
	p.enter("1", "1", "25 12") // no year is typed, and last December is nearer than next December
	p.wants("Planted Fri 25 Dec, 16 days ago.")
	p.enter("0", "12/25").wants("Fri 25 Dec 2026. Is that right?")
	p = caller(t, knownBook())
	p.b.Day = engine.Date(2026, time.December, 28)
	p.enter("1", "1", "0501").wants("To be planted Tue 5 Jan, in 8 days.")
	p.enter("0", "050126").wants("Tue 5 Jan 2027. Is that right?")
	p.enter("0", "0502").wants("Fri 5 Feb 2027 is more than 14 days from now.")
}

func TestSlipsOfWeedingDates(t *testing.T) { // the plot was planted on 15 October
	p := caller(t, knownBook())
	p.b.Day = engine.Date(2026, time.December, 12)
	p.enter("1", "1", "15/10", "1", "1", "1", "1", "600", "00", "3", "3")
	p.plays("11/12/25 => Fri 11 Dec 2026. Is that right?")
	p.enter("0", "1211").wants("Thu 12 Nov. Is that right?", "1 yes, Thu 12 Nov", "2 no: Fri 11 Dec")
	p.enter("2", "1", "1")
	if got := p.b.Seasons[1].Passes; len(got) != 1 || got[0].On != engine.Date(2026, time.December, 11) {
		t.Fatalf("passes %+v", got)
	}
	p = caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3", "3", "11/10")
	p.wants("That is before planting, Thu 5 Nov.") // 11 October is refused; 10 November is not offered
}

func TestSlipsOfSowingDates(t *testing.T) {
	p := caller(t, knownBook()).enter("5", "2", "3", "11/5")
	p.wants("Thu 5 Nov. Is that right?")
	p.plays("1 => Sown Thu 5 Nov, 20 days ago")
	p = caller(t, knownBook()).enter("5", "2", "3", "12 दिन")
	p.wants("Sown Fri 13 Nov, 12 days ago")
}

func TestSlipsOfHours(t *testing.T) {
	weeded := []string{"1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3", "1", "1", "1", "1"}
	for _, c := range []struct {
		entry, answer string
		want          float64
	}{{"25", "1", 25}, {"25", "2", 2.5}, {"25 heures", "2", 2.5}, {"24", "", 24}, {"2.5", "", 2.5},
		{"masaa 3", "", 3}, {"half an hour", "", 0.5}} {
		p := caller(t, knownBook()).enter(weeded...).enter(c.entry)
		if c.answer != "" {
			p.wants("25 h. Is that right?", "2 no: 2.5 h")
			p.enter(c.answer)
		}
		p.wants("How many people?")
		p.enter("2 watu")
		if got := p.b.Seasons[1].Passes[0]; got.Hours != c.want || got.People != 2 {
			t.Errorf("%q, %q: %+v", c.entry, c.answer, got)
		}
	}
	p := caller(t, knownBook()).enter(weeded...)
	p.plays("2.30 => 2 h 30 min. Is that right? | 1 yes, 2 h 30 min | 2 no: 2 h 20 min", "0 => How many hours",
		"08:00 => 8 h. Is that right?", "0 => How many hours", "2-3 => 2 h. Is that right? | 2 no: 3 h",
		"2 => How many people?", "2 => Noted: 3 h, 2 people.")
	p = caller(t, knownBook()) // 25 hours is plausible for 1 ha, so 25 is not doubted
	p.enter(toArea...).enter("1 ha", "1", "00", "3", "1", "1", "1", "1", "25").wants("How many people?")
	p.enter("00", "2", "5", "2", "1", "2", "1", "75").wants("7.5 h. Is that right?")
	p.enter("1")
	if p.b.Home.HoursADay != 7.5 {
		t.Errorf("%g hours a day", p.b.Home.HoursADay)
	}
}

// TestDoubtOfToolAndRowsLeadsToTheRows checks that a grower who is told that the tool does not go between the rows can
// correct the rows, where the tool is asked for a new plot and where it is changed.
func TestDoubtOfToolAndRowsLeadsToTheRows(t *testing.T) {
	p := caller(t, knownBook()).enter(toTool...)
	p.plays("25 => That leaves no room for the rice. | 1 yes, tool 25, rows 20 cm | 2 the rows are wrong",
		"2 => How far apart are rows and plants?", "0 => Does water stand", "1 => How far apart are rows and plants?",
		"30*30 => How wide is your weeder?", "25 => How big?", "600 => Saved: ")
	if s := p.b.Seasons[1]; s.Plot.RowSpacingCM != 30 || s.Tool.WidthCM != 25 {
		t.Errorf("%+v", s)
	}
	p = caller(t, knownBook()).enter(toTool...)
	p.plays("51 => 2 no: tool 15, rows 20 cm | 3 the rows are wrong", "3 => How far apart are rows and plants?")
	p = caller(t, knownBook()).enter(toArea...).enter("600", "1", "4") // correct something: the weeder
	p.plays("25 => 2 the rows are wrong", "2 => How far apart are rows and plants?", "30*30 => Rows 30, plants 30 cm")
	if s := p.b.Seasons[1]; s.Plot.RowSpacingCM != 30 || s.Tool.WidthCM != 15 {
		t.Errorf("%+v", s)
	}
}

// TestDoubtIsSavedAndDropped checks that a doubt is still open after a dropped call, and that the home key drops the
// doubt.
func TestDoubtIsSavedAndDropped(t *testing.T) {
	p := caller(t, knownBook()).enter(append(toRows, "52")...).dial("*123#").wants("1 go on")
	p.plays("1 => 52 cm from row to row? | 2 no: 25 cm", "7 => Not 7: type 1, 2.", "2 => also 25 cm apart?")
	p.enter("0") // the back key leads to the question about the rows, not to the doubt
	p.wants("How far apart are the rows?")
	p.enter("52", "twenty").wants("Not twenty: type 1, 2.", "52 cm")
	p.enter("22") // the grower types a new answer without pressing the back key
	p.wants("also 22 cm apart?")
	p.plays("0 => How far apart are the rows?")
	p.enter("52", "00").wants("What now?")
}

// TestWhatIsWrittenIsRead checks that a grower can type an amount in the form in which the screens write it, in every
// language.
func TestWhatIsWrittenIsRead(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		c := m.scene(&notebook.Book{Day: wednesday, Lang: lang}, USSD, &session{})
		a := map[Field]string{fRow: "22.5", fHill: "25", fLength: "20.5", fWidth: "30", fHours: "2.5",
			fPlanted: strconv.Itoa(int(wednesday - 20))}
		m2 := answer.AreaUnits{SideM: 1, M2: 1, StepM: 0.75}
		for about, read := range map[doubtKind]func(string) (any, *Refusal){
			doubtSpacing: func(s string) (any, *Refusal) { x, _, r := answer.ReadSpacing(s); return x, r },
			doubtRow:     func(s string) (any, *Refusal) { x, _, r := answer.CM(s, answer.RowSpacing); return x, r },
			doubtMinutes: func(s string) (any, *Refusal) { x, _, r := answer.Hours(s, 0); return x, r },
			doubtSides:   func(s string) (any, *Refusal) { x, _, r := answer.ReadSides(s, m2); return x, r },
			doubtHours:   func(s string) (any, *Refusal) { x, _, r := answer.Hours(s, 0); return x, r },
		} {
			want := map[doubtKind]any{
				doubtSpacing: answer.Spacing{Row: 22.5, Hill: 25}, doubtRow: 22.5, doubtMinutes: 2.5,
				doubtSides: answer.Sides{Length: 20.5, Width: 30}, doubtHours: 2.5}[about]
			said := doubtTexts[about].Say(c, a)
			if got, r := read(said); r != nil || got != want || c.err != nil {
				t.Errorf("%s: %q is read as %v, %v; %v", lang, said, got, r, c.err)
			}
		}
		for _, typed := range []string{"600", "0.25 ha", "30 are", "0.5 acre", "20x30", "40 x 50 st", "60 x 100 ft"} {
			want, _, r := answer.Area(typed, m2)
			said := sayArea(c, sizeFields(want))
			if got, _, again := answer.Area(said, m2); r != nil || again != nil || got != want || c.err != nil {
				t.Errorf("%s: %q is read as %v, %v; %v", lang, said, got, again, c.err)
			}
		}
	}
}
