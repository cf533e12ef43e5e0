package engine

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Windows that are over stay known, also when a later one was announced.
func TestPastWindows(t *testing.T) {
	s := Season{Plot: flooded(25), Tool: Tool{WidthCM: 15}, Weather: Steady(22, 31)}
	planted := s.Plot.Planted
	first := must(s.Windows(planted)).Next
	weeded := s
	weeded.Passes = []Pass{{On: first.Best, With: ByTool, Left: Few}}
	for _, c := range []struct {
		name  string
		s     Season
		today Day
		want  []WindowEnd
	}{
		{"before the first", s, first.Best, nil},
		{"the missed one is still shown", s, first.Closes + 1, nil},
		{"the next one comes", s, first.Closes + 12, []WindowEnd{WindowMissed}},
		{"two are missed", s, first.Closes + 32, []WindowEnd{WindowMissed, WindowMissed}},
		{"weeded", weeded, first.Best, []WindowEnd{WindowWeeded}},
		{"weeded, the second missed", weeded, first.Closes + 28, []WindowEnd{WindowWeeded, WindowMissed}},
		{"the season is over", weeded, planted + 80, []WindowEnd{WindowWeeded, WindowMissed, WindowMissed}},
	} {
		for _, announced := range []bool{false, true} {
			s := c.s
			if announced {
				s.Announced = must(s.Windows(c.today)).Next
			}
			var got []WindowEnd
			for _, w := range must(s.Past(c.today)) {
				got = append(got, w.End)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("%s, announced %v: %v, want %v", c.name, announced, got, c.want)
			}
			if past := must(s.Past(c.today)); len(past) > 0 && (past[0].Opens != first.Opens ||
				past[0].Closes != first.Closes) {
				t.Errorf("%s: the first window was %+v, not %+v", c.name, past[0], first)
			}
		}
	}
	moved := s
	moved.Announced = first
	moved.Announced.Opens--
	if past := must(moved.Past(first.Closes + 12)); past[0].Opens != first.Opens-1 {
		t.Errorf("an announced window has other days than those announced: %+v", past[0])
	}
	s.Plot.RowSpacingCM = 0
	if _, err := s.Past(planted); err == nil {
		t.Error("a plot that cannot be has past windows")
	}
}

// Past windows begin by the day of the plan, and a missed one is over.
func TestPastWindowsAreInThePast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		next := must(s.Windows(today)).Next
		for _, w := range must(s.Past(today)) {
			if w.Opens > today || w.End == WindowMissed && w.Closes >= today || w.sameAs(next) {
				t.Fatalf("on %s: %+v, next %+v", today, w, next)
			}
		}
	})
}
