package engine

import (
	"testing"

	"pgregory.net/rapid"
)

// fastShare returns the share of the weight whose weeds have the given number of leaves on day d. It goes through all
// grid points, where belief.reached searches for the day.
func (c *belief) fastShare(d Day, leaves float64) float64 {
	sum := 0.0
	for b := range c.weight {
		for i := range c.weight[b] {
			for j, w := range c.weight[b][i] {
				if c.point[b][i].leaves(float64(d-c.from)-startDays[j]) >= leaves-1e-9 {
					sum += w
				}
			}
		}
	}
	return sum
}

// The first look comes in time for weeds that grow fast, not before the plants can root or weeds can be seen, and
// before the window opens.
func TestDayOfTheFirstLook(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		today := s.Plot.Planted
		if last, passed := s.lastPass(); passed {
			today = last.On
		}
		w, weeds := s.nextWindow(today), s.weeds()
		if w.AskOn >= w.Opens {
			t.Errorf("the look is on day %s: %+v", w.AskOn, w)
		}
		rooted := w.AskOn <= max(s.firstToolDay(), s.grown())-AskAgainFrom
		seen := s.grown() + AskAgainFrom
		early := weeds.fastShare(w.AskOn-1, AskLeaves)
		switch {
		case w.AskOn > seen && !rooted && early >= AskShare:
			t.Errorf("the day before the look %.2f of the weeds have %g leaves: %+v", early, AskLeaves, w)
		case w.AskOn < w.Opens-1 && weeds.fastShare(w.AskOn, AskLeaves) < AskShare && w.AskOn > seen && !rooted:
			t.Errorf("on the day of the look %.2f of the weeds have %g leaves: %+v",
				weeds.fastShare(w.AskOn, AskLeaves), AskLeaves, w)
		case w.AskOn < min(seen, w.Opens-1) || w.AskOn < min(s.firstToolDay()-AskAgainFrom, w.Opens-1):
			t.Errorf("a look before anything can be done: %+v", w)
		}
	})
}

func TestDayOfAnotherLook(t *testing.T) {
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	last := Sighting{On: s.Plot.Planted + 8, Leaves: OneLeaf}
	for _, c := range []struct {
		name   string
		best   Day // after the look
		chance float64
		want   Day // after the look; 0 = none
	}{
		{"the best day is near", AskBeforeBest, 0.5, AskAgainFrom},
		{"before the best day", AskBeforeBest + AskAgainFrom + 1, 0.5, AskAgainFrom + 1},
		{"the best day is far", AskBeforeBest + AskAgainTo + 5, 0.5, AskAgainTo},
		{"not sure", AskBeforeBest + AskAgainFrom + 1, SureChance - 0.001, AskAgainFrom + 1},
		{"sure", AskBeforeBest + AskAgainFrom + 1, SureChance, 0},
	} {
		want := Day(0)
		if c.want != 0 {
			want = last.On + c.want
		}
		got := s.askOn(nil, Window{Best: last.On + c.best, Chance: c.chance}, last)
		wantEqual(t, "%s: next look", got, want, c.name)
	}
}

// A grower who looks again and again on the days that are asked for is asked at most three times a window, and the
// looks end. Weeds of every clock on both grounds.
func TestLooksEnd(t *testing.T) {
	for clock := range clocks {
		for _, plot := range []Plot{flooded(20), moist(20)} {
			for _, meanC := range []float64{19, 23, 28, 31} {
				s := Season{Plot: plot, Tool: Tool{WidthCM: 15}, Weather: Steady(meanC-4, meanC+4)}
				truth := alone(clock, plot, meanC)
				water := bookKept
				if plot.Flood == FloodMoist {
					water = bookWet
				}
				p, n := truth.middle(clock, water), 0
				w := s.nextWindow(s.Plot.Planted)
				for ; w.AsksLook() && n < 10; n++ {
					leaves := p.leaves(float64(w.AskOn - s.Plot.Planted))
					l := FourPlus
					switch {
					case leaves < NoneUpTo:
						l = NoneUp
					case leaves < OneLeafTo:
						l = OneLeaf
					case leaves < TwoThreeTo:
						l = TwoThree
					}
					s.Sightings = append(s.Sightings, Sighting{On: w.AskOn, Leaves: l})
					w = s.nextWindow(w.AskOn)
				}
				if n < 1 || n > 3 {
					t.Errorf("%s, flood %d, %g °C: %d looks", clocks[clock].name, plot.Flood, meanC, n)
				}
				// The advised day has two to four leaves, if the plants have rooted in time.
				if day := float64(w.Best - s.Plot.Planted); p.closes >= FirstPassDays+1 {
					if leaves := p.leaves(day); leaves < WindowOpensLeaves || leaves > WindowClosesLeaves {
						t.Errorf("%s, flood %d, %g °C, %d looks: %.1f leaves on the best day %+v", clocks[clock].name,
							plot.Flood, meanC, n, leaves, w)
					}
				}
			}
		}
	}
}

// Weeds that were seen with four leaves or more before the plants have rooted are pulled by hand: the tool would uproot
// the plants, also where the clocks say that the weeds are small enough.
func TestBigWeedsBeforeThePlantsHaveRooted(t *testing.T) {
	small := 0
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		s.Passes, s.Plot.Puddled = nil, s.Plot.Planted-Day(rapid.IntRange(0, 12).Draw(t, "puddled"))
		_, w := withLook(s, s.Plot.Planted+Day(rapid.IntRange(2, FirstPassDays-1).Draw(t, "look")), FourPlus)
		wantEqual(t, "reason of %+v", w.Why, WhySeenBig, w)
		if w.Chance >= GuessChance {
			small++
		}
	})
	if small == 0 {
		t.Error("no field has weeds that the clocks take for small")
	}
}

// A grower who was asked for a look and never gave a leaf count is not asked before later windows. These windows open
// with a text that says that their days are a guess.
func TestWhoNeverLooksIsAskedOnce(t *testing.T) {
	base := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	planted := base.Plot.Planted
	weeded := []Pass{{On: planted + 13, With: ByTool, Left: Few}}
	for _, c := range []struct {
		name   string
		season Season
		asked  bool
	}{
		{"asked before the pass", Season{AskedOn: planted + 8, Passes: weeded}, false},
		{"many weeds left", Season{AskedOn: planted + 8, Passes: []Pass{{On: planted + 13, With: ByTool, Left: Many}}},
			false},
		{"asked, and nothing was logged", Season{AskedOn: planted + 8}, false},
		{"never asked", Season{Passes: weeded}, true},
		{"asked after the pass", Season{AskedOn: planted + 22, Passes: weeded}, true},
		{"told the leaves once", Season{AskedOn: planted + 8, Passes: weeded,
			Sightings: []Sighting{{On: planted + 13, Leaves: FourPlus}}}, true},
		{"told of the water only", Season{AskedOn: planted + 8, Passes: weeded,
			Sightings: []Sighting{{On: planted + 9, Water: StandsFingers}}}, false},
	} {
		c.season.Plot, c.season.Tool, c.season.Weather = base.Plot, base.Tool, base.Weather
		var told []Told
		for d := planted + 17; d <= planted+36; d++ {
			p := must(c.season.Plan(d))
			if p.Next.Number != 2 {
				continue
			}
			if p.Next.AsksLook() != c.asked {
				t.Errorf("%s: day %d: asked for a look %t, want %t", c.name, d-planted, !c.asked, c.asked)
			}
			if r, silence := p.Reminder(told); silence == NotSilent {
				told = append(told, Told{Kind: r.Kind, Window: 2, On: d})
				if r.Kind == KindOpen && !r.Window.Guess() {
					t.Errorf("%s: the window of a grower who did not look is no guess: %+v", c.name, r.Window)
				}
			}
		}
		if len(told) == 0 || (told[0].Kind == KindPrepare) != c.asked {
			t.Errorf("%s: texts %+v", c.name, told)
		}
	}
}
