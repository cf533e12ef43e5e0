package engine

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// aroundSeason is a plot of transplanted rice at 27.5 °C, with seedlings 18 days old.
func aroundSeason(p Plot) Season {
	p.Planted, p.RowSpacingCM, p.HillSpacingCM = Date(2026, 6, 1), 20, 20
	return Season{Plot: p, Tool: Tool{WidthCM: 15}, Weather: Steady(23, 32)}
}

// daysOf returns the first and the last day of a work, in days after planting.
func daysOf(t *testing.T, s Season, kind OtherKind) (from, to Day, ok bool) {
	t.Helper()
	for _, o := range s.Around(s.Plot.Planted) {
		if o.Kind == kind {
			return o.From - s.Plot.Planted, o.To - s.Plot.Planted, true
		}
	}
	return 0, 0, false
}

func TestDaysOfOtherWorks(t *testing.T) {
	transplanted, sown := Plot{Method: Transplanted}, Plot{Method: RowSown}
	early := Plot{Method: Transplanted, Puddled: Date(2026, 6, 1) - 3}
	told := Plot{Method: Transplanted, DurationDays: 120}
	for _, c := range []struct {
		name     string
		plot     Plot
		kind     OtherKind
		from, to Day
	}{
		// NARO, organic rice manual (source read): the last puddling two weeks or more after the first.
		{"two puddlings", transplanted, PuddleFirst, -21, -14},
		{"last puddling", transplanted, PuddleLast, -1, 0},
		{"last puddling three days early", early, PuddleFirst, -24, -17},
		// PhilRice, how to transplant rice (source read): by day 7. rkmp, transplanting for irrigated rice (source
		// read): at one week and at 15 days.
		{"gaps", transplanted, FillGaps, 1, 7},
		{"gaps again", transplanted, FillGapsAgain, 13, 15},
		// From memory: active tillering 20-25 days after transplanting, 33-38 after sowing.
		{"first top-dressing", transplanted, TopDressTillering, 20, 25},
		{"first top-dressing of sown rice", sown, TopDressTillering, 33, 38},
		// rkmp, water management 3 (source read): drained completely 10 days before harvest. The harvest of a variety
		// of 120 days is 102 days after planting seedlings that are 18 days old (arithmetic).
		{"before harvest", told, DrainHarvest, 92, 102},
	} {
		from, to, ok := daysOf(t, aroundSeason(c.plot), c.kind)
		if !ok {
			t.Errorf("%s: missing", c.name)
			continue
		}
		wantEqual(t, c.name+": from", from, c.from)
		wantEqual(t, c.name+": to", to, c.to)
	}
	if _, _, ok := daysOf(t, aroundSeason(sown), FillGaps); ok {
		t.Error("gaps of sown rice are filled with seedlings")
	}
}

// agropedia (source read): the last top-dressing as panicles begin, 50-55 days after transplanting. The engine counts
// panicle initiation by heat; a variety whose panicles begin on day 50 has the published days.
func TestTopDressingAtPanicles(t *testing.T) {
	s := aroundSeason(Plot{Method: Transplanted, DurationDays: 128})
	panicle := s.PanicleInitiation() - s.Plot.Planted
	from, to, _ := daysOf(t, s, TopDressPanicle)
	wantEqual(t, "from", from, panicle)
	wantEqual(t, "days", to-from, 5)
	wantNear(t, "panicles begin", float64(panicle), 50, 2)
}

// rkmp, water management 3 (source read): drained for 4-5 days after maximum tillering. IRRI, vegetative phase (source
// read): tillering ends at panicle initiation.
func TestDrainedBeforePanicles(t *testing.T) {
	s := aroundSeason(Plot{Method: Transplanted})
	panicle := s.PanicleInitiation() - s.Plot.Planted
	from, to, _ := daysOf(t, s, DrainTillering)
	wantEqual(t, "days", to-from+1, 5)
	wantEqual(t, "next day", to+1, panicle)
}

// In a cool place all works that follow from the crop are later, and those by the calendar are not.
func TestOtherWorksInACoolPlace(t *testing.T) {
	warm := aroundSeason(Plot{Method: Transplanted})
	cool := warm
	cool.Weather = Steady(15, 24)
	for _, kind := range []OtherKind{TopDressTillering, DrainTillering, TopDressPanicle, DrainHarvest} {
		w, _, _ := daysOf(t, warm, kind)
		c, _, _ := daysOf(t, cool, kind)
		if c < w+7 {
			t.Errorf("%s: day %d where it is cool, day %d where it is warm", kind, c, w)
		}
	}
	c, _, _ := daysOf(t, cool, FillGaps)
	wantEqual(t, "gaps", c, 1)
}

func TestToolCareAfterAPass(t *testing.T) {
	s := aroundSeason(Plot{Method: Transplanted})
	day := s.Plot.Planted
	care := func(today Day) Timing {
		for _, o := range s.Around(today) {
			if o.Kind == ToolCare {
				return o.When
			}
		}
		return 0
	}
	wantEqual(t, "no pass", care(day+20), Timing(0))
	s.Passes = []Pass{{On: day + 17, With: ByTool}}
	wantEqual(t, "before the pass", care(day+16), Timing(0))
	wantEqual(t, "on the day", care(day+17), Due)
	wantEqual(t, "later", care(day+20), Past)
	s.Passes[0].With = ByHand
	wantEqual(t, "by hand", care(day+17), Timing(0))
}

// Arfan et al. 2016 (source read): no further damage by snails after week five.
func TestSnailsEatForFiveWeeks(t *testing.T) {
	s := aroundSeason(Plot{Method: Transplanted})
	for day, want := range map[Day]bool{-10: true, 0: true, 35: true, 36: false} {
		wantEqual(t, "snails on day %d", s.SnailsEat(s.Plot.Planted+day), want, day)
	}
}

// On any day the works of any season are in order, each once, with days in order, and as seen from that day.
func TestOtherWorksAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := s.Plot.Planted + Day(rapid.IntRange(-60, 200).Draw(t, "today"))
		works := s.Around(today)
		if !slices.IsSortedFunc(works, func(a, b OtherWork) int { return int(a.From - b.From) }) {
			t.Errorf("not in order: %v", works)
		}
		kinds := map[OtherKind]bool{}
		for _, o := range works {
			if kinds[o.Kind] || o.From > o.To {
				t.Errorf("%s is there twice, or its days %s to %s are not in order", o.Kind, o.From, o.To)
			}
			kinds[o.Kind] = true
			wantEqual(t, o.Kind.String(), o.When == Due, o.From <= today && today <= o.To)
			if o.Kind == TopDressTillering && o.To >= s.PanicleInitiation() {
				t.Errorf("the first top-dressing ends on %s, after panicle initiation", o.To)
			}
		}
	})
}

// A variety of 90 days forms panicles about three weeks after planting at 28 °C. It is not drained for tillering: its
// first pass needs water on these days. A film of water stays for 30 days (rkmp, water management, read).
func TestAShortVarietyIsNotDrainedForTillering(t *testing.T) {
	for duration, want := range map[int]bool{90: false, 120: true} {
		p := flooded(25)
		p.DurationDays = duration
		s := Season{Plot: p, Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
		got := slices.ContainsFunc(s.Around(p.Planted), func(o OtherWork) bool { return o.Kind == DrainTillering })
		wantEqual(t, "%d days: drained after tillering", got, want, duration)
	}
}
