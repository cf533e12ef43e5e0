package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"rowbell/engine"
)

// The weeds of the simulation follow one of five clocks, computed here by plain formulas from the daily mean
// temperature. They share no code with the weed clocks of the engine, so the engine can be wrong about them. The engine
// knows the first four clocks, but not which of them a plot follows. It does not know the fifth.

// clock says how much heat the weeds need, in degree-days above a base temperature.
type clock struct {
	name               string
	keptHeat, keptOver float64 // from puddling to emergence on ground that is kept under water
	wetHeat, wetOver   float64 // the same on ground that is only wet
	leafHeat, leafOver float64 // for one leaf
}

// The clocks of nature. Emergence on wet ground needs 93 °C d over 10.8 °C (Šoštarčić et al. 2021, Agronomy 11:2072).
//   - "base 0": the first leaf 214.9 °C d after flooding, and each further leaf 98.3 °C d (Iwasaki et al. 1978, Weed
//     Research (Japan) 23(1):23-28);
//   - "base 6.5": the same days at 20 °C, counted over the base of a related weed (base from Swanton et al. 2000,
//     Agron. J. 92(6):1125; equality at 20 °C is chosen here);
//   - "held back": water delays emergence by 70 °C d, and a leaf needs 45 °C d, all over 10.8 °C (chosen here);
//   - "fast": four fifths of the heat on any ground (chosen here);
//   - "slow leaves": water delays nothing, and a leaf needs 65 °C d over 10.8 °C, the upper end of the range of three
//     grass weeds (Gramig & Stoltenberg 2007, Weed Technology).
var natureClocks = [...]clock{
	{"base 0", 117, 0, 93, 10.8, 98, 0},
	{"base 6.5", 78.7, 6.5, 93, 10.8, 66.4, 6.5},
	{"held back", 163, 10.8, 93, 10.8, 45, 10.8},
	{"fast", 0.8 * 93, 10.8, 0.8 * 93, 10.8, 0.8 * 66.4, 6.5},
	{"slow leaves", 93, 10.8, 93, 10.8, 65, 10.8},
}

// slowLeaves is the clock that the engine does not know.
var slowLeaves = &natureClocks[len(natureClocks)-1]

// Clocks returns the names of the clocks that weeds can follow.
func Clocks() []string {
	var names []string
	for _, c := range natureClocks {
		names = append(names, c.name)
	}
	return names
}

// Water is the water of a simulated plot.
type Water uint8

const (
	WaterKept  Water = iota // always under water
	WaterOnOff              // under water for part of the time; the part differs between plots
	WaterMoist              // only wet
)

func (w Water) String() string { return Waters()[w] }

// Waters returns the names of the kinds of water.
func Waters() []string { return []string{"kept", "on-off", "moist"} }

// WaterNamed returns the water with this name; false if the name is unknown.
func WaterNamed(name string) (Water, bool) {
	i := slices.Index(Waters(), name)
	return Water(max(i, 0)), i >= 0
}

// told returns the answer of the grower to the question about the water of the plot.
func (w Water) told() engine.Flood {
	return [...]engine.Flood{engine.FloodKept, engine.FloodOnOff, engine.FloodMoist}[w]
}

// warmth holds the degree-days since a day, for each base temperature of the clocks.
type warmth struct {
	from engine.Day
	over map[float64][]float64 // base temperature -> degree-days of the days from+1 to from+i
}

// newWarmth sums the weather of the given number of days after day from.
func newWarmth(weather engine.Weather, from engine.Day, days int) *warmth {
	w := &warmth{from, map[float64][]float64{}}
	for _, c := range natureClocks {
		for _, base := range []float64{c.keptOver, c.wetOver, c.leafOver} {
			w.over[base] = nil
		}
	}
	means := make([]float64, days)
	for i := range means {
		day := weather.On(from + engine.Day(i+1))
		means[i] = (day.MinC + day.MaxC) / 2
	}
	for base := range w.over {
		sum := make([]float64, days+1)
		for i, mean := range means {
			sum[i+1] = sum[i] + max(0, mean-base)
		}
		w.over[base] = sum
	}
	return w
}

// at returns the degree-days of the first t days. It interpolates between two days.
func at(sum []float64, t float64) float64 {
	t = min(max(0, t), float64(len(sum)-1))
	i := min(int(t), len(sum)-2)
	return sum[i] + (t-float64(i))*(sum[i+1]-sum[i])
}

// reach returns after how many days the degree-days are at least heat; +Inf if they never are.
func reach(sum []float64, heat float64) float64 {
	i, _ := slices.BinarySearch(sum, heat)
	switch {
	case i == len(sum):
		return math.Inf(1)
	case i == 0:
		return 0
	}
	return float64(i) - (sum[i]-heat)/(sum[i]-sum[i-1])
}

// field is what is true of the weeds of one plot.
type field struct {
	clock *clock
	slow  float64 // factor on the heat that the weeds need
	wet   float64 // share of the ground that is only wet: 0 = kept under water, 1 = only wet
	heat  *warmth
}

// newField draws a plot's speed, around the speed of its place, and its water.
func newField(r *rand.Rand, c *clock, slow, scatter float64, water Water, heat *warmth) field {
	f := field{clock: c, slow: slow * math.Exp(scatter*r.NormFloat64()), heat: heat}
	share := r.Float64()
	switch water {
	case WaterOnOff:
		f.wet = share
	case WaterMoist:
		f.wet = 1
	}
	return f
}

// weeds are the weeds of a plot that grow since the last puddling or pass. Days are counted from day zero, the first
// day of the warmth.
type weeds struct {
	zero  engine.Day
	sum   []float64 // degree-days of leaf growth
	up    float64   // day of emergence
	aLeaf float64   // degree-days for one leaf
	late  float64   // days by which these weeds are later than the clock says
}

// grow returns the weeds that grow from day from on, late days later than the clock says. emerged says that a pass has
// left weeds that have emerged already.
func (f *field) grow(from engine.Day, late float64, emerged bool) weeds {
	began := float64(from - f.heat.from)
	w := weeds{zero: f.heat.from, sum: f.heat.over[f.clock.leafOver], up: began, aLeaf: f.slow * f.clock.leafHeat,
		late: late}
	if emerged {
		return w
	}
	after := func(heat, over float64) float64 {
		sum := f.heat.over[over]
		return min(reach(sum, at(sum, began)+f.slow*heat), float64(len(sum)-1))
	}
	w.up = after(f.clock.keptHeat, f.clock.keptOver)
	if f.wet > 0 {
		w.up = (1-f.wet)*w.up + f.wet*after(f.clock.wetHeat, f.clock.wetOver)
	}
	return w
}

// leaves returns the number of leaves that most weeds have on day d.
func (w *weeds) leaves(d engine.Day) float64 {
	t := float64(d-w.zero) - w.late
	if t <= w.up {
		return 0
	}
	return (at(w.sum, t) - at(w.sum, w.up)) / w.aLeaf
}

// have returns when most weeds have this number of leaves, in days after day zero; +Inf if they never do.
func (w *weeds) have(leaves float64) float64 {
	return reach(w.sum, at(w.sum, w.up)+leaves*w.aLeaf) + w.late
}

// rightSize reports whether most weeds have two to four leaves on day d.
func (w *weeds) rightSize(d engine.Day) bool {
	leaves := w.leaves(d)
	return 2 <= leaves && leaves <= 4
}
