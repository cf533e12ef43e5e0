package engine

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestPlotValidate(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Plot)
		says   string // "" = valid
	}{
		{"as it is", func(*Plot) {}, ""},
		{"nothing optional told", func(p *Plot) {
			*p = Plot{Method: Transplanted, Planted: p.Planted, RowSpacingCM: 20}
		}, ""},
		{"scattered, no rows", func(p *Plot) { *p = Plot{Method: Broadcast, Planted: p.Planted} }, ""},
		{"no method", func(p *Plot) { p.Method = 0 }, "method"},
		{"rows of 2 cm", func(p *Plot) { p.RowSpacingCM = 2 }, "row spacing 2 cm is not between 5 and 100"},
		{"rows of 2.5 m typed as cm", func(p *Plot) { p.RowSpacingCM = 250 }, "row spacing 250 cm"},
		{"rows not a number", func(p *Plot) { p.RowSpacingCM = math.NaN() }, "row spacing"},
		{"hills of 1 cm", func(p *Plot) { p.HillSpacingCM = 1 }, "hill spacing"},
		{"a negative area", func(p *Plot) { p.AreaM2 = -1 }, "area"},
		{"an endless area", func(p *Plot) { p.AreaM2 = math.Inf(1) }, "area"},
		{"seedlings of 90 days", func(p *Plot) { p.SeedlingAgeDays = 90 },
			"seedling age 90 days is not between 5 and 60"},
		{"13 seedlings", func(p *Plot) { p.SeedlingsPerHill = 13 }, "13 seedlings a hill"},
		{"a 40-day variety", func(p *Plot) { p.DurationDays = 40 }, "duration 40 days"},
		{"puddled after planting", func(p *Plot) { p.Puddled = p.Planted + 1 }, "puddled 2026-07-02"},
		{"puddled 30 days before", func(p *Plot) { p.Puddled = p.Planted - 30 }, ""},
		{"puddled 31 days before", func(p *Plot) { p.Puddled = p.Planted - 31 }, "puddled"},
		{"planted in the year 202", func(p *Plot) { p.Planted = Date(202, 7, 1) }, "planting day 0202-07-01"},
		{"planted in the year 20226", func(p *Plot) { p.Planted = Date(20226, 7, 1) }, "planting day"},
		{"an unknown flood", func(p *Plot) { p.Flood = 7 }, "flood"},
	} {
		p := square(25)
		p.SeedlingAgeDays, p.SeedlingsPerHill, p.DurationDays, p.AreaM2 = 18, 2, 120, 600
		c.change(&p)
		says(t, c.name, p.Validate(), c.says)
	}
}

func TestToolValidate(t *testing.T) {
	for _, c := range []struct {
		name string
		tool Tool
		says string
	}{
		{"no tool", Tool{}, ""},
		{"15 cm", Tool{WidthCM: 15}, ""},
		{"10 to 15 cm", Tool{WidthCM: 10, MaxWidthCM: 15}, ""},
		{"3 cm", Tool{WidthCM: 3}, "tool width 3 cm"},
		{"150 mm typed as cm", Tool{WidthCM: 150}, "tool width 150 cm"},
		{"15 to 10 cm", Tool{WidthCM: 15, MaxWidthCM: 10}, "widest setting 10 cm"},
		{"15 to 90 cm", Tool{WidthCM: 15, MaxWidthCM: 90}, "widest setting 90 cm"},
		{"only a widest setting", Tool{MaxWidthCM: 20}, "tool width 0 cm"},
	} {
		says(t, c.name, c.tool.Validate(), c.says)
	}
}

func TestSeasonValidate(t *testing.T) {
	day := square(20).Planted
	for _, c := range []struct {
		name   string
		change func(*Season)
		says   string
	}{
		{"as it is", func(*Season) {}, ""},
		{"a plot that cannot be", func(s *Season) { s.Plot.RowSpacingCM = 0 }, "row spacing"},
		{"a tool that cannot be", func(s *Season) { s.Tool.WidthCM = 1 }, "tool width"},
		{"a minimum above the maximum", func(s *Season) { s.Weather.Normals[4].MinC = 40 }, "month 5"},
		{"no number", func(s *Season) { s.Weather.Normals[11].MaxC = math.NaN() }, "month 12"},
		{"degrees Fahrenheit", func(s *Season) { s.Weather.Normals[0] = Normal{MinC: 72, MaxC: 90} }, "month 1"},
		{"rain of a year", func(s *Season) { s.Weather.Normals[2].RainMM = 20_000 }, "month 3 cannot have 20000 mm"},
		{"two passes on a day", func(s *Season) { s.Passes = []Pass{{On: day + 20}, {On: day + 20}} }, ""},
		{"passes in disorder", func(s *Season) { s.Passes = []Pass{{On: day + 20}, {On: day + 19}} },
			"in order of day"},
		{"sightings in disorder", func(s *Season) { s.Sightings = []Sighting{{On: day + 20}, {On: day + 19}} },
			"in order of day"},
	} {
		s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(23, 32)}
		c.change(&s)
		says(t, c.name, s.Validate(), c.says)
		_, err := s.Plan(day)
		says(t, c.name+", planned", err, c.says)
		_, err = s.Windows(day)
		says(t, c.name+", windows", err, c.says)
	}
}

// says fails the test unless err contains the text want; if want is "", err must be nil.
func says(t *testing.T, name string, err error, want string) {
	t.Helper()
	switch {
	case want == "" && err != nil:
		t.Errorf("%s: %v", name, err)
	case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
		t.Errorf("%s: error %v, want one with %q", name, err, want)
	}
}

func TestNames(t *testing.T) {
	for want, values := range map[string][]fmt.Stringer{
		"transplanted": {Transplanted}, "row-sown": {RowSown}, "broadcast": {Broadcast},
		"unknown": {FloodUnknown}, "moist": {FloodMoist}, "hand": {ByHand}, "both": {Both}, "many": {Many},
		"2-3": {TwoThree}, "closed": {RowsClosed}, "too wide": {FitTooWide}, "plants too big": {EndPlantsBig},
		"weeds seen too big": {WhySeenBig}, "last days": {LastDays}, "last-days": {KindLastDays},
		"kept for the last days": {SilentKeepForLast}, "from memory": {FromMemory},
		"both ways": {WeedBoth}, "one way, then by hand": {WeedOneWay}, "by hand": {WeedByHand},
		"none": {NoAlternative}, "the rest by hand": {ByHandRest},
		"low": {RiskLow}, "middle": {RiskMiddle}, "high": {RiskHigh},
		"usual": {SeedUsual}, "far below": {SeedFarBelow}, "far above": {SeedFarAbove},
		"age": {RuleAge}, "leaves": {RuleLeaves}, "tool then hand": {ToolThenHand},
		"too close to tell": {CloseToTell}, "other rows": {OtherRows}, "alike": {Alike},
		"shared tool": {SharedTool}, "from": {FromArea},
		"0?": {State(0), Advice(0)}, "4?": {Level(4)}, "9?": {Method(9), Alternative(9), Buying(9)},
	} {
		for _, value := range values {
			wantEqual(t, fmt.Sprintf("the name of %T %[1]d", value), value.String(), want)
		}
	}
}

func TestSmallThings(t *testing.T) {
	if (Tool{}).Adjustable() || (Tool{WidthCM: 15, MaxWidthCM: 15}).Adjustable() {
		t.Error("a tool of one width is adjustable")
	}
	for year, days := range map[int]int{1900: 28, 2000: 29, 2024: 29, 2026: 28, 2100: 28} {
		wantEqual(t, "days of February %d", monthDays(year, 2), days, year)
	}
}
