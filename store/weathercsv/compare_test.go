package weathercsv

import (
	"math"
	"testing"

	"rowbell/engine"
)

func TestCompare(t *testing.T) {
	none := math.NaN()
	day := func(n engine.Day, low, high, rain float64) Day {
		return Day{testToday + n, engine.Measured{MinC: low, MaxC: high, RainMM: rain}}
	}
	before := Daily([]Day{day(0, 20, 30, 1), day(1, none, none, 2), day(3, 20, 30, none)})
	if before.From != testToday || len(before.Days) != 4 || before.Days[2].HasRain() || before.Days[3].MaxC != 30 {
		t.Errorf("%+v", before)
	}
	if got := Daily(nil); len(got.Days) != 0 {
		t.Errorf("%+v", got)
	}
	days := []Day{
		day(-1, 20, 30, 0), // added: the records have no such day
		day(0, 20, 30, 1),  // same: the records have equal values
		day(1, 20, 30, 2),  // replaced: the records have no temperatures
		day(2, none, none, none),
		day(3, 20, 31, none), // replaced: the records have max. 30 °C
		day(4, none, none, 7),
	}
	added, replaced, same := Changes(before, Daily(days), days)
	if added != 2 || replaced != 2 || same != 2 {
		t.Errorf("added %d, replaced %d, same %d; want 2 of each", added, replaced, same)
	}
	for name, c := range map[string]struct {
		has  func(engine.Measured) bool
		want []Gap
	}{
		"temperature": {engine.Measured.HasTemperature,
			[]Gap{{testToday + 2, testToday + 2}, {testToday + 4, testToday + 5}}},
		"rain": {engine.Measured.HasRain, []Gap{{testToday + 2, testToday + 3}, {testToday + 5, testToday + 5}}},
	} {
		got := Gaps(Daily(days), testToday-1, testToday+5, c.has)
		if len(got) != len(c.want) || got[0] != c.want[0] || got[1] != c.want[1] {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
