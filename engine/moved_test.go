package engine

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// announced returns a season of a flooded plot at 28 °C, and its planting day. The first window is days 12 to 15 after
// planting. It was announced to the grower on day d after planting.
func announced(d Day) (s Season, planted Day) {
	s = Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	s.Announced = must(s.Plan(s.Plot.Planted + d)).Next
	return s, s.Plot.Planted
}

// measured returns the season with these temperatures as measured weather of some days.
func measured(s Season, from Day, days int, minC, maxC float64) Season {
	s.Weather.Daily = Daily{From: from}
	for range days {
		s.Weather.Daily.Days = append(s.Weather.Daily.Days, Measured{MinC: minC, MaxC: maxC})
	}
	return s
}

// sameDays reports whether two windows have the same number and days.
func sameDays(a, b Window) bool {
	return a.Number == b.Number && a.Opens == b.Opens && a.Best == b.Best && a.Closes == b.Closes
}

func TestAnAnnouncedWindowMovesOnlyByAText(t *testing.T) {
	s, planted := announced(8)
	if w := s.Announced; w.Opens != planted+12 || w.Closes != planted+15 {
		t.Fatalf("days %d to %d", w.Opens-planted, w.Closes-planted)
	}

	same := must(s.Plan(planted + 8))
	if same.Moved.Exists() || same.Next != s.Announced {
		t.Errorf("nothing changed, and yet %+v", same)
	}

	// The measured weather moves the window by one day only, which is less than MovedDays, so the announced days stay.
	slight := must(measured(s, planted, 6, 22.5, 30).Plan(planted + 8))
	if slight.Moved.Exists() || !sameDays(slight.Next, s.Announced) {
		t.Errorf("after six slightly cooler days: %+v, moved %+v", slight.Next, slight.Moved)
	}

	// Ten days at 20 °C give 80 degree-days less than ten days at 28 °C. At 28 °C these are 2.9 days above 0 °C and 4.7
	// days above 10.8 °C, so the window opens about three to five days later.
	cold := measured(s, planted+1, 10, 15, 25)
	p := must(cold.Plan(planted + 11))
	if !sameDays(p.Next, s.Announced) {
		t.Errorf("the announced window moved without a word: %+v", p.Next)
	}
	if p.Moved.Opens < planted+14 || p.Moved.Opens > planted+17 {
		t.Errorf("moved to day %d", p.Moved.Opens-planted)
	}
	told := []Told{{Kind: KindPrepare, Window: 1, On: planted + 8}}
	r, silence := p.Reminder(told)
	if r.Kind != KindMoved || silence != NotSilent || r.Window != p.Moved || r.LastUseful != p.Moved.Closes ||
		r.Asks() {
		t.Fatalf("%+v, %s", r, silence)
	}

	// After the text, the moved window is the announced one and opens on its new days.
	cold.Announced = r.Window
	told = append(told, Told{Kind: KindMoved, Window: 1, On: planted + 11})
	after := must(cold.Plan(r.Window.Opens))
	if after.Moved.Exists() || !sameDays(after.Next, r.Window) {
		t.Fatalf("%+v", after)
	}
	if r, _ := after.Reminder(told); r.Kind != KindOpen {
		t.Errorf("it opens: %s", r.Kind)
	}
}

func TestAWindowThatMovesWhileOpenAsks(t *testing.T) {
	s, planted := announced(8)
	hot := measured(s, planted, 11, 29, 37) // a mean of 33 °C: the window is open since day 10
	p := must(hot.Plan(planted + 11))
	told := []Told{{Kind: KindPrepare, Window: 1, On: planted + 8}}
	r, _ := p.Reminder(told)
	if r.Kind != KindMoved || !r.Window.Contains(planted+11) || !r.Asks() {
		t.Fatalf("%+v", r)
	}
	// The text about the move said that the window is open, so no text follows on the next morning.
	hot.Announced = r.Window
	told = append(told, Told{Kind: KindMoved, Window: 1, On: planted + 11})
	if r, _ := must(hot.Plan(planted + 12)).Reminder(told); r.Kind == KindOpen {
		t.Error("the open text came on the heels of the moved one")
	}
}

func TestTheGrowersOwnNewsMovesAtOnce(t *testing.T) {
	s, planted := announced(8)
	s.Sightings = []Sighting{{On: planted + 11, Leaves: TwoThree}}
	if p := must(s.Plan(planted + 11)); p.Moved.Exists() || p.Next.Opens != planted+11 {
		t.Errorf("a leaf count: %+v, moved %+v", p.Next, p.Moved)
	}
	s.Sightings = nil
	s.Passes = []Pass{{On: planted + 12, With: ByTool, Left: Few}}
	if p := must(s.Plan(planted + 12)); p.Moved.Exists() || p.Next.Number != 2 || p.Next.Opens <= planted+15 {
		t.Errorf("a pass: %+v, moved %+v", p.Next, p.Moved)
	}
}

// With any measured weather, an announced window keeps its days until a text moves it, by at least MovedDays.
func TestMovedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		told := []Told{}
		for d := s.Plot.Planted; d < s.Plot.Planted+70; d++ {
			if rapid.IntRange(0, 9).Draw(t, "weather comes in") == 0 {
				by := rapid.Float64Range(-6, 6).Draw(t, "warmer by")
				s.Weather.Daily = Daily{From: s.Plot.Planted}
				for x := s.Plot.Planted; x < d; x++ {
					w := s.Weather.Normals.on(x)
					s.Weather.Daily.Days = append(s.Weather.Daily.Days, Measured{MinC: w.MinC + by, MaxC: w.MaxC + by})
				}
			}
			p := must(s.Plan(d))
			// The announced days stay until they are over, until the weeds are too big for the tool, or until a pass is
			// logged.
			passed := func(p Pass) bool { return p.On <= d && p.On >= s.Announced.Opens-PrepareDays }
			if a := s.Announced; a.Exists() && !slices.ContainsFunc(s.Passes, passed) && p.Next.Number == a.Number &&
				p.Next.Edition == a.Edition && d <= a.Closes && d <= p.Next.Closes &&
				(p.Next.Opens != a.Opens || p.Next.Closes != a.Closes) {
				t.Fatalf("on day %d the window told as %v stands at %v", d-s.Plot.Planted, a, p.Next)
			}
			r, silence := p.Reminder(told)
			if silence != NotSilent {
				continue
			}
			if r.Kind == KindMoved && apart(r.Window.Opens, s.Announced.Opens) < MovedDays &&
				apart(r.Window.Closes, s.Announced.Closes) < MovedDays {
				t.Fatalf("a text for a day: %v to %v", s.Announced, r.Window)
			}
			told = append(told, Told{Kind: r.Kind, Window: r.Window.Number, Edition: r.Window.Edition, On: d})
			if r.Window.Exists() {
				s.Announced = r.Window
			}
		}
	})
}

// If weeds are too big before the announced days, no text tells the grower to weed on these days.
func TestNobodyIsRungForWeedsThatArePast(t *testing.T) {
	s, planted := announced(8)
	fast := NewLocal()
	fast.WeedRate = 1.3
	s.Local = &fast // the place has now learned a faster weed rate: the window is days 10 to 12
	told := []Told{{Kind: KindPrepare, Window: 1, On: planted + 8}}
	if r, _ := must(s.Plan(planted + 11)).Reminder(told); r.Kind != KindMoved || !r.Asks() {
		t.Errorf("day 11: %s", r.Kind)
	}
	for d := planted + 13; d <= planted+18; d++ {
		p := must(s.Plan(d))
		if r, _ := p.Reminder(told); p.State != Missed || r.Kind != KindMissed {
			t.Errorf("day %d: %s, %s", d-planted, p.State, r.Kind)
		}
	}
}

// If weeds grow later than announced, no text says that they are too big.
func TestLateWeedsAreStillToBeWeeded(t *testing.T) {
	s, planted := announced(8)
	s = measured(s, planted, 14, 13, 21)
	told := []Told{{Kind: KindOpen, Window: 1, On: planted + 12}}
	p := must(s.Plan(planted + 16))
	if p.State != Open && p.State != Prepare && p.State != TooEarly || p.Next.Closes <= planted+16 {
		t.Errorf("%s, %v", p.State, p.Next)
	}
	if r, _ := p.Reminder(told); r.Kind != KindMoved {
		t.Errorf("%s", r.Kind)
	}
}

// A leaf count that goes up and down does not cause a text each time.
func TestASecondMovedTextTakesMore(t *testing.T) {
	s, planted := announced(7)
	told := []Told{{Kind: KindMoved, Window: 1, On: planted + 4}}
	cool := measured(s, planted+1, 7, 18, 27)
	p := must(cool.Plan(planted + 9))
	if by := apart(p.Moved.Opens, s.Announced.Opens); by < MovedDays || by >= 2*MovedDays {
		t.Fatalf("moved by %d days", by)
	}
	if r, _ := p.Reminder(nil); r.Kind != KindMoved {
		t.Errorf("the first: %s", r.Kind)
	}
	if r, _ := p.Reminder(told); r.Kind == KindMoved {
		t.Error("a second for as little")
	}
	if r, _ := must(measured(s, planted+1, 9, 15, 24).Plan(planted + 9)).Reminder(told); r.Kind != KindMoved {
		t.Errorf("a second for more: %s", r.Kind)
	}
}

// An announced window stays, even if the model now computes that the rows close before it.
func TestAnAnnouncedWindowDoesNotVanish(t *testing.T) {
	s := Season{Plot: square(25), Tool: Tool{WidthCM: 15}, Weather: Steady(22, 33)}
	planted := s.Plot.Planted
	s.Passes = []Pass{{On: planted + 29, With: ByTool, Left: Few}}
	for d := planted + 30; ; d++ {
		if d > planted+60 {
			t.Fatal("no second window near the end in this climate")
		}
		p := must(s.Plan(d))
		if p.State == Prepare {
			s.Announced = p.Next
			break
		}
	}
	slow := NewLocal()
	slow.WeedRate = MinWeedRate // at this slow weed rate the window would open after the rows have closed
	s.Local = &slow
	p := must(s.Plan(s.Announced.Opens))
	if p.Next.Opens != s.Announced.Opens || p.State == FollowUp || p.State == Closed {
		t.Errorf("%v stands at %v, %s", s.Announced, p.Next, p.State)
	}
}

// A pass ends the announcement of its window. After a window without an answer the next window has the same number, so
// the number does not show which window was announced.
func TestAPassEndsWhatWasTold(t *testing.T) {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(20, 30)}
	first := must(s.Plan(s.Plot.Planted)).Next
	second := must(s.Plan(first.Closes + 13)).Next
	for d := first.Closes + 1; second.Number == first.Number; d++ {
		second = must(s.Plan(d)).Next
	}
	if len(s.Passes) != 0 || second.Number != 2 {
		t.Fatalf("the second window is %+v", second)
	}
	s.Announced = second
	s.Passes = []Pass{{On: second.Opens + 1, With: ByTool, Left: Few}}
	p := must(s.Plan(second.Opens + 1))
	if p.Next == second || p.State == Open || p.State == LastDays {
		t.Errorf("after the pass of day %d the plan is still %v, %+v", second.Opens+1-s.Plot.Planted, p.State, p.Next)
	}
}
