package circle_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// No tool is in two places on a day or used while it is out, no household uses more tools than it has hands, and no
// turn is outside of the window of its plot without being marked late.
func TestRosterKeepsTheLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProblem(drawn(t))
		type at struct {
			index int
			day   engine.Day
		}
		tools, hands := map[at]int{}, map[at]int{}
		for _, turn := range p.Solve(circle.Limit{}).Turns {
			plot := p.Plots[turn.Plot]
			k := at{turn.Tool, turn.Day}
			if tools[k]++; tools[k] > 1 || out(p.Tools[turn.Tool], turn.Day) {
				t.Errorf("%+v is the second of its tool, or the tool is out", turn)
			}
			hands[at{plot.Household, turn.Day}]++
			if turn.Day < plot.Opens || turn.Day > plot.Until || (turn.Day > plot.Closes) != (turn.Late > 0) {
				t.Errorf("%+v is outside of %v to %v (%v)", turn, plot.Opens, plot.Closes, plot.Until)
			}
		}
		for at, n := range hands {
			if has := handsOn(p.Households[at.index], int(at.day-p.From)); n > has {
				t.Errorf("household %d uses %d tools on %v and has hands for %d", at.index, n, at.day, has)
			}
		}
	})
}

// Planning again with all turns told gives the same roster.
func TestPlanningAgainMovesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProblem(drawn(t))
		first := p.Solve(circle.Limit{})
		again := retold(p, first).Solve(circle.Limit{})
		if again.Moved != 0 || !reflect.DeepEqual(again.Turns, first.Turns) {
			t.Errorf("%d moved: %v became %v", again.Moved, first.Turns, again.Turns)
		}
	})
}

// Told turns cost no plot its window, even if a tool breaks after they were told: as many plots are served as if
// nothing had been told. Without need, no told turn moves.
func TestToldTurnsCostNoWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn(t)
		p := randomProblem(d)
		p = retold(p, p.Solve(circle.Limit{}))
		p.Tools = slices.Clone(p.Tools)
		broken := circle.Span{From: p.From + engine.Day(d(0, 5))}
		broken.To = broken.From + engine.Day(d(0, 3))
		tool := d(0, len(p.Tools)-1)
		p.Tools[tool].Out = append(slices.Clone(p.Tools[tool].Out), broken)
		free := retold(p, circle.Roster{})
		r, best := p.Solve(circle.Limit{}), free.Solve(circle.Limit{})
		if r.Served != best.Served {
			t.Errorf("%d plots served with told turns, %d without", r.Served, best.Served)
		}
		if lost := toldOn(p, tool, broken); lost == 0 && r.Moved > 0 || r.Moved < lost {
			t.Errorf("%d told turns moved, %d were on days of the broken tool", r.Moved, lost)
		}
	})
}

// toldOn counts the told turns of a tool in a span of days.
func toldOn(p circle.Problem, tool int, days circle.Span) (n int) {
	for _, plot := range p.Plots {
		for _, t := range plot.Told {
			if t.Tool == tool && days.From <= t.Day && t.Day <= days.To {
				n++
			}
		}
	}
	return n
}
