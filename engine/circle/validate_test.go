package circle

import (
	"math"
	"strings"
	"testing"

	"rowbell/engine"
)

// dayOne is a Monday, the first planned day of the problems of these tests.
var dayOne = engine.Date(2026, 2, 16)

// small is a problem without errors: two plots of one household, two tools, five days.
func small() Problem {
	return Problem{
		From: dayOne, To: dayOne + 4,
		Plots: []Plot{
			{Opens: dayOne, Closes: dayOne + 1, Until: dayOne + 3, Need: []int{1, 2}, Chance: []float64{0.5, 1}},
			{Opens: dayOne + 1, Closes: dayOne + 2, Until: dayOne + 4, Need: []int{1, 0},
				Told: []Turn{{Tool: 0, Day: dayOne + 1}, {Tool: 0, Day: dayOne + 2}}},
		},
		Tools:      []Tool{{Out: []Span{{dayOne, dayOne}}}, {}},
		Households: []Household{{Hands: []int{1, 0, 2}}},
	}
}

func TestValidate(t *testing.T) {
	if err := small().Validate(); err != nil {
		t.Fatal(err)
	}
	if err := (Problem{}).Validate(); err != nil {
		t.Error("a problem without plots:", err)
	}
	for want, change := range map[string]func(*Problem){
		"planned days: 0, want 1 to 120": func(p *Problem) { p.To = p.From - 1 },
		"planned days: 4294967296, want 1 to 120": func(p *Problem) {
			p.From, p.To = math.MinInt32, math.MaxInt32
		},
		"want at most 500, 50 and 500":                     func(p *Problem) { p.Plots = make([]Plot, 501) },
		"plot 1: household 1, want 0 to 0":                 func(p *Problem) { p.Plots[1].Household = 1 },
		"plot 0: window from":                              func(p *Problem) { p.Plots[0].Opens = math.MinInt32 },
		"plot 0: opens 2026-02-16, closes 2026-02-15":      func(p *Problem) { p.Plots[0].Closes = dayOne - 1 },
		"plot 0: worth a pass for 121 days":                func(p *Problem) { p.Plots[0].Until = dayOne + 122 },
		"plot 0: needs with 1 tools, want 2":               func(p *Problem) { p.Plots[0].Need = []int{1} },
		"plot 0: chances of 1 days, want 2":                func(p *Problem) { p.Plots[0].Chance = []float64{1} },
		"plot 1: 100 windows missed, want 0 to 99":         func(p *Problem) { p.Plots[1].Missed = 100 },
		"plot 1: needs 61 tool-days with tool 1":           func(p *Problem) { p.Plots[1].Need[1] = 61 },
		"plot 0: chance NaN of day 1":                      func(p *Problem) { p.Plots[0].Chance[1] = math.NaN() },
		"plot 1: told turn 1: tool 2, want 0 to 1":         func(p *Problem) { p.Plots[1].Told[1].Tool = 2 },
		"plot 1: told turn 1: tool 0 on 2026-02-17 was al": func(p *Problem) { p.Plots[1].Told[1].Day-- },
		"tool 1: out from 2026-02-17 to 2026-02-16": func(p *Problem) {
			p.Tools[1].Out = []Span{{dayOne + 1, dayOne}}
		},
		"tool 1: 121 spans":                            func(p *Problem) { p.Tools[1].Out = make([]Span, 121) },
		"household 0: 51 hands on day 2, want 0 to 50": func(p *Problem) { p.Households[0].Hands[2] = 51 },
		"household 0: hands of 121 days": func(p *Problem) {
			p.Households[0].Hands = make([]int, 121)
		},
	} {
		p := small()
		change(&p)
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}
