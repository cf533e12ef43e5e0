package menu

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/menu/notebook"
)

// logged returns a grower with one plot, planted 25 days before wednesday, two weedings and a look.
func logged() *notebook.Book {
	s := inRows(20, engine.Tool{WidthCM: 15})
	s.Plot.Planted, s.Plot.HillSpacingCM, s.Plot.AreaM2 = wednesday-25, 20, 600
	s.Passes = []engine.Pass{
		{On: wednesday - 11, With: engine.ByTool, Way: engine.Along, Left: engine.Few, Hours: 3, People: 2},
		{On: wednesday - 10, With: engine.ByTool, Way: engine.Along, Left: engine.Few},
	}
	s.Sightings = []engine.Sighting{{On: wednesday - 12, Leaves: engine.FourPlus, Amount: engine.Many}}
	return bookOf(s)
}

// fixing dials to the list of weedings and looks of plot 1.
func fixing(t testing.TB, b *notebook.Book) *phone {
	t.Helper()
	return dials(t, newMenu(), b, "*123*2*6*3*2#").wants("Which one is wrong?")
}

func TestADoubleWeedingIsTakenOut(t *testing.T) {
	p := fixing(t, logged())
	p.wants("1 Sun 15 Nov, tool one way\n2 Sat 14 Nov, tool one way\n3 look of Fri 13 Nov")
	p.plays("1 => Plot 1, Sun 15 Nov, tool one way. Weeds left: few.",
		"5 => Take out Sun 15 Nov, tool one way? Then: ",
		"2 => Which one is wrong?", "1 => Sun 15 Nov", "5 => Take out",
		"1 => Taken out: Sun 15 Nov, tool one way. Then: ",
		"1 => 1 Sat 14 Nov, tool one way\n2 look of Fri 13 Nov")
	if got := p.b.Seasons[1].Passes; len(got) != 1 || got[0].On != wednesday-11 {
		t.Errorf("%+v", got)
	}
}

func TestAWeedingIsPutRight(t *testing.T) {
	p := fixing(t, logged()).enter("2")
	p.wants("Plot 1, Sat 14 Nov, tool one way. Weeds left: few. 3 h, 2 people.")
	p.plays("1 => How many days ago?",
		"40 => That is before planting, Sat 31 Oct.", // only such a day is refused
		"10 => A weeding on Sun 15 Nov is logged already.",
		"26/11 => has not come yet",
		"15 => Noted: Tue 10 Nov, tool one way. Then: Look at the weeds now",
		"1 => 2 look of Fri 13 Nov\n3 Tue 10 Nov", "3 => Tue 10 Nov",
		"2 => How?", "3 => Noted: Tue 10 Nov, by hand.",
		"1 => Which", "1 => Sun 15 Nov", "3 => How many weeds were left in the rows?",
		"3 => Noted: Sun 15 Nov, tool one way. Weeds left: many. Then: ",
		"1 => Which", "1 => Sun 15 Nov", "4 => How many hours", "4 => How many people?",
		"3 => Noted: Sun 15 Nov, tool one way. 4 h, 3 people. The days stay: ")
	want := []engine.Pass{{On: wednesday - 15, With: engine.ByHand, Left: engine.Few, Hours: 3, People: 2},
		{On: wednesday - 10, With: engine.ByTool, Way: engine.Along, Left: engine.Many, Hours: 4, People: 3}}
	if got := p.b.Seasons[1].Passes; !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
}

// A weeding that was only of a part is put right. Then it is no longer refused on the day of another part.
func TestTheShareOfAWeedingIsPutRight(t *testing.T) {
	b := logged()
	p := fixing(t, b)
	p.plays("1 => Sun 15 Nov, tool one way. | 6 how much of it", "6 => How much of the plot was weeded on that day?",
		"3 => Noted: Sun 15 Nov, tool one way, half.",
		"1 => 1 Sun 15 Nov, tool one way, half\n2 Sat 14 Nov, tool one way",
		"1 => half", "1 => How many days ago?", "11 => is logged already", "0 => half", "0 => 2 Sat 14 Nov",
		"2 => Sat 14 Nov", "6 => How much", "2 => a quarter", "1 => 2 Sat 14 Nov, tool one way, a quarter", "1 => half",
		"1 => How many", "11 => Noted: Sat 14 Nov, tool one way, half.")
	if got := b.Seasons[1].Passes; len(got) != 2 || got[0].Share != 0.25 || got[1].Share != 0.5 ||
		got[0].On != got[1].On {
		t.Errorf("%+v", got)
	}
	fixing(t, b).enter("2", "6", "1").wants("Noted: Sat 14 Nov, tool one way.")
	if got := b.Seasons[1].Passes[0].Share; got != 0 {
		t.Errorf("%g", got)
	}
}

func TestALookIsPutRight(t *testing.T) {
	p := fixing(t, logged())
	p.plays("3 => Plot 1, look of Fri 13 Nov. You saw: four leaves or more, weeds: many.",
		"2 => How many leaves had most of the weeds?",
		"3 => Noted: look of Fri 13 Nov. You saw: two or three leaves, weeds: many.",
		"1 => Which", "3 => look of Fri 13 Nov", "3 => How many weeds were there?", "1 => weeds: few",
		"1 => Which", "3 => look of Fri 13 Nov", "4 => How did the water stand?", "2 => weeds: few, mud",
		"1 => Which", "3 => look of Fri 13 Nov", "6 => Could you still see water",
		"1 => water seen between the rows, mud",
		"1 => Which", "3 => look of Fri 13 Nov", "1 => How many days ago?", "7 => Noted: look of Wed 18 Nov.",
		"1 => 1 look of Wed 18 Nov")
	want := []engine.Sighting{{On: wednesday - 7, Leaves: engine.TwoThree, Amount: engine.Few, Rows: engine.RowsOpen,
		Water: engine.StandsMud}}
	if got := p.b.Seasons[1].Sightings; !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
	p.plays("1 => Wed 18 Nov", "5 => Take out look of Wed 18 Nov?", "1 => Taken out: look of Wed 18 Nov")
	if got := p.b.Seasons[1].Sightings; len(got) > 0 {
		t.Errorf("%+v", got)
	}
}

// Where no weeds were up, no amount of weeds is stored, as when such a look is told.
func TestALookWithoutWeedsHasNoAmount(t *testing.T) {
	p := fixing(t, logged()).enter("3", "2", "1")
	if got := p.b.Seasons[1].Sightings[0]; got.Leaves != engine.NoneUp || got.Amount != engine.AmountUnknown {
		t.Errorf("%+v", got)
	}
}

// A list of nine weedings and nine looks shows four on a page. On each page they are numbered from 1.
func TestTheListOfEntriesHasPages(t *testing.T) {
	b := logged()
	edit(b, 1, func(s *engine.Season) {
		s.Passes, s.Sightings = nil, nil
		for d := engine.Day(18); d > 0; d -= 2 {
			s.Passes = append(s.Passes, engine.Pass{On: wednesday - d, With: engine.ByTool, Way: engine.Along})
			s.Sightings = append(s.Sightings, engine.Sighting{On: wednesday - d, Leaves: engine.OneLeaf})
		}
	})
	p := fixing(t, b)
	seen := 0
	for page := 0; ; page++ {
		lines := strings.Split(p.last.Text, "\n")
		for n, line := range lines[1 : len(lines)-1] {
			if !strings.HasPrefix(line, fmt.Sprint(n+1, " ")) {
				t.Errorf("page %d has the line %q", page, line)
			}
			if strings.Contains(line, "Nov") {
				seen++
			}
		}
		if !p.has("5 more") {
			break
		}
		p.enter("5")
	}
	if seen != 18 {
		t.Errorf("%d of 18 entries are listed", seen)
	}
	p.plays("2 => look of Sat 7 Nov", "0 => 2 look of Sat 7 Nov", "0 => 4", "0 => 4")
}

// A weeding is corrected by USSD while the same weeding is corrected by SMS: each corrects another value, and both
// stay.
func TestTwoCorrectionsAtOnceLoseNothing(t *testing.T) {
	b := logged()
	dialled, texted := fixing(t, b).enter("1", "3"), texts(t, b)
	texted.plays("MENU => What now?", "2 => Plot 1", "6 => change", "3 => 2 weedings", "2 => Which one",
		"1 => Sun 15 Nov",
		"4 => hours", "5 => people", "2 => 5 h, 2 people")
	dialled.plays("3 => Weeds left: many")
	want := engine.Pass{On: wednesday - 10, With: engine.ByTool, Way: engine.Along, Left: engine.Many, Hours: 5,
		People: 2}
	if got := b.Seasons[1].Passes[1]; got != want {
		t.Errorf("%+v", got)
	}
}

// A weeding that another channel has moved or taken out is not corrected, and the list shows what there is now.
func TestACorrectionOfWhatIsGoneIsRefused(t *testing.T) {
	for name, gone := range map[string]func(*notebook.Book) error{
		"taken out": func(b *notebook.Book) error { return b.RemovePass(1, b.Seasons[1].Passes[1]) },
		"moved": func(b *notebook.Book) error {
			was := b.Seasons[1].Passes[1]
			now := was
			now.On -= 3
			return b.CorrectPass(1, was, now)
		},
		"doubled": func(b *notebook.Book) error { return b.LogPass(1, b.Seasons[1].Passes[1]) },
	} {
		t.Run(name, func(t *testing.T) {
			b := logged()
			left, out, listed := fixing(t, b).enter("1", "3"), fixing(t, b).enter("1", "5"), fixing(t, b)
			must(0, gone(b))
			before := b.Seasons[1]
			left.enter("3").wants("Something was changed before this, so nothing was done.")
			out.enter("1").wants("Something was changed before this, so nothing was done.")
			listed.enter("1").wants("Something was changed before this, so nothing was done.", "Which one is wrong?")
			if !reflect.DeepEqual(b.Seasons[1], before) {
				t.Errorf("%+v", b.Seasons[1])
			}
		})
	}
}

func TestAPlotIsPlantedAgain(t *testing.T) {
	b := logged()
	edit(b, 1, func(s *engine.Season) { s.Plot.SeedlingAgeDays, s.Plot.Puddled = 20, wednesday-26 })
	p := dials(t, newMenu(), b, "*123*2*6*3*4#").wants("3 planted again")
	p.plays("3 => when was it planted again?",
		"31/10 => That is before planting, Sat 31 Oct.",
		"26/11 => has not come yet",
		// The weeding of that day is one of them.
		"15/11 => planted again Sun 15 Nov? What was logged before it no longer counts: weedings 2, looks 1.",
		"2 => What shall we change?", "3 => when was it",
		"14/11 => planted again Sat 14 Nov?",
		"1 => Planted Sat 14 Nov, 11 days ago. | 1 age of seedlings",
		"1 => How many days old were the seedlings", "14 => Noted")
	got := b.Seasons[1]
	if got.Plot.Planted != wednesday-11 || got.Plot.Puddled != 0 || got.Plot.SeedlingAgeDays != 14 ||
		got.Plot.RowSpacingCM != 20 || got.Plot.AreaM2 != 600 {
		t.Errorf("%+v", got.Plot)
	}
	if len(got.Passes) != 1 || got.Passes[0].On != wednesday-10 || len(got.Sightings) != 0 {
		t.Errorf("%+v %+v", got.Passes, got.Sightings)
	}
}

// How a plot was planted can be changed. If the plot then needs a distance of its rows, that is asked for, and nothing
// is stored before.
func TestTheWayOfPlantingIsPutRight(t *testing.T) {
	s := inRows(0, engine.Tool{})
	s.Plot.Method = engine.Broadcast
	b := bookOf(s)
	p := dials(t, newMenu(), b, "*123*2*6*3*2*1#").wants("How is the rice planted?")
	p.plays("1 => How far apart are rows and plants?", "0 => How is the rice planted?", "0 => What shall we change?",
		"2 => When was it")
	if p.enter("1"); b.Seasons[1].Plot.Method != engine.Broadcast {
		t.Fatalf("%+v", b.Seasons[1].Plot)
	}
	p.dial("*123*2*6*3*2*1#").plays("1 => How far apart", "2 => Noted: Rows 25, plants 25 cm")
	if got := b.Seasons[1].Plot; got.Method != engine.Transplanted || got.RowSpacingCM != 25 {
		t.Errorf("%+v", got)
	}
	p.dial("*123*2*6*3*2*1#").plays("2 => Noted: seed in lines.")
	if got := b.Seasons[1].Plot; got.Method != engine.RowSown || got.RowSpacingCM != 25 {
		t.Errorf("%+v", got)
	}
}

// TestPutRightAndBackAgain corrects any weeding or look in any way, and then back again: the season is the same as
// before.
func TestPutRightAndBackAgain(t *testing.T) {
	m := newMenu()
	state := func(screen ScreenID, e entry) []byte {
		return must((&session{Screen: screen, Answers: map[Field]string{fPlot: "1", fEntry: e.String()}}).encode())
	}
	rapid.Check(t, func(rt *rapid.T) {
		b := logged()
		edit(b, 1, func(s *engine.Season) {
			s.Passes, s.Sightings = nil, nil
			for _, d := range rapid.SliceOfNDistinct(rapid.IntRange(1, 20), 1, 5, rapid.ID).Draw(rt, "days") {
				pass := engine.Pass{On: wednesday - engine.Day(d), With: engine.ByTool, Way: engine.Along,
					Left: engine.Amount(rapid.IntRange(1, 3).Draw(rt, "left"))}
				look := engine.Sighting{On: pass.On, Leaves: engine.Leaves(rapid.IntRange(1, 3).Draw(rt, "leaves")),
					Amount: engine.Some, Rows: engine.RowsOpen, Water: engine.StandsMud}
				s.Passes, s.Sightings = append(s.Passes, pass), append(s.Sightings, look)
			}
			slices.SortFunc(s.Passes, func(a, b engine.Pass) int { return cmp.Compare(a.On, b.On) })
			slices.SortFunc(s.Sightings, func(a, b engine.Sighting) int { return cmp.Compare(a.On, b.On) })
		})
		before := b.Seasons[1]
		e := rapid.SampledFrom(entriesOf(before)).Draw(rt, "entry")
		enter := func(screen ScreenID, e entry, what string) {
			_, r, err := m.Enter(b, USSD, state(screen, e), what)
			if must(0, err); r.Screen != "fixed" {
				rt.Fatalf("%q on %s: %s", what, screen, r.Text)
			}
		}
		free := rapid.IntRange(1, 20).Filter(func(d int) bool {
			for _, p := range before.Passes {
				if p.On == wednesday-engine.Day(d) {
					return false
				}
			}
			return true
		}).Draw(rt, "to")
		moved := entry{sighting: e.sighting, on: wednesday - engine.Day(free), of: 1}
		ago := fmt.Sprint(int(wednesday - e.on))
		switch i := e.passOf(before); {
		case i >= 0 && rapid.Bool().Draw(rt, "day"):
			enter("fix.pass.day", e, fmt.Sprint(free))
			enter("fix.pass.day", moved, ago)
		case i >= 0:
			enter("fix.pass.left", e, rapid.SampledFrom([]string{"1", "2", "3"}).Draw(rt, "left now"))
			enter("fix.pass.left", e, fmt.Sprint(int(before.Passes[i].Left)))
		case rapid.Bool().Draw(rt, "day"):
			enter("fix.sighting.day", e, fmt.Sprint(free))
			enter("fix.sighting.day", moved, ago)
		default:
			enter("fix.sighting.leaves", e, rapid.SampledFrom([]string{"2", "3", "4"}).Draw(rt, "leaves now"))
			digits := map[engine.Leaves]string{engine.OneLeaf: "2", engine.TwoThree: "3", engine.FourPlus: "4"}
			enter("fix.sighting.leaves", e, digits[before.Sightings[e.sightingOf(before)].Leaves])
		}
		if !reflect.DeepEqual(b.Seasons[1], before) {
			rt.Fatalf("%+v\nnot\n%+v", b.Seasons[1], before)
		}
	})
}
