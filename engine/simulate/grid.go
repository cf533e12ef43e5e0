package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"rowbell/engine"
)

// GridOptions say which kinds of plots to compare. A field with the value zero gets the default that its comment names.
type GridOptions struct {
	Seed   uint64
	Fields int       // plots in a cell; 0 = DefaultFields; at most MaxPlots
	MeansC []float64 // mean temperatures; nil = 19, 22, 25, 28 and 31
	Waters []Water   // nil = all
	Habit  Habit     // zero = DefaultHabit
	Played func()    // is called after each cell; may be nil
}

// DefaultFields is the default of GridOptions.Fields.
const DefaultFields = 100

// misreads is the standard deviation of a leaf count in the grid, in leaves.
const misreads = 0.5

// Grid is the result of Compare. Its cells are the combinations of temperature, water and clock.
type Grid struct {
	Cells   []Cell
	Fields  int
	Habit   Habit
	BestDay int // the day after planting that is in time on most plots of the grid
}

// Cell compares ways to choose the day of the first pass on plots of one kind. The shares are the parts of the plots,
// 0 to 1, on which the day is in time: the weeds have two to four leaves.
type Cell struct {
	MeanC         float64
	Water         Water
	Clock         string
	Opens, Closes float64 // days after planting on which the weeds have two and four leaves, on the mean plot
	OwnDay        int     // the fixed day that is in time on most plots of the cell
	Own           float64 // on OwnDay, which nobody can know
	One           float64 // on Grid.BestDay
	Habit         float64 // by habit
	Look          float64 // on the day that the service names, where growers look each time that they are asked
	Half          float64 // the same, where they look half of the times
	Never         float64 // the same, where they never look
	Looks         float64 // looks of a grower of Look
	Unknown       bool    // the service does not know the clock
}

func (o GridOptions) filled() (GridOptions, error) {
	if o.Fields == 0 {
		o.Fields = DefaultFields
	}
	if o.MeansC == nil {
		o.MeansC = []float64{19, 22, 25, 28, 31}
	}
	if o.Waters == nil {
		o.Waters = []Water{WaterKept, WaterOnOff, WaterMoist}
	}
	if o.Habit == (Habit{}) {
		o.Habit = DefaultHabit
	}
	for _, c := range o.MeansC {
		if !(coldestC <= c && c <= hottestC) {
			return o, fmt.Errorf("simulate: a mean of %g °C is not between %d and %d", c, coldestC, hottestC)
		}
	}
	for _, w := range o.Waters {
		if w > WaterMoist {
			return o, fmt.Errorf("simulate: there is no water %d", w)
		}
	}
	switch {
	case o.Fields < 0 || o.Fields > MaxPlots:
		return o, fmt.Errorf("simulate: %d plots are not between 1 and %d", o.Fields, MaxPlots)
	case !o.Habit.valid():
		return o, fmt.Errorf("simulate: habit %s is not between 1 and %d days", o.Habit, MaxHabit)
	}
	return o, nil
}

// Cells returns the number of cells of the grid.
func (o GridOptions) Cells() int {
	o, _ = o.filled()
	return len(o.MeansC) * len(o.Waters) * len(natureClocks)
}

// Compare compares fixed days with the days that the service names, for the first pass on plots of every kind.
func Compare(o GridOptions) (Grid, error) {
	o, err := o.filled()
	if err != nil {
		return Grid{}, err
	}
	g := Grid{Fields: o.Fields, Habit: o.Habit}
	var days []fixedDays
	for _, c := range o.MeansC {
		heat := newWarmth(steady(c), FirstPlanting, longest)
		for _, water := range o.Waters {
			for i := range natureClocks {
				cell := Cell{MeanC: c, Water: water, Clock: natureClocks[i].name,
					Unknown: &natureClocks[i] == slowLeaves}
				r := rand.New(rand.NewPCG(o.Seed, uint64(len(g.Cells))))
				days = append(days, cell.play(r, &o, &natureClocks[i], heat))
				g.Cells = append(g.Cells, cell)
				if o.Played != nil {
					o.Played()
				}
			}
		}
	}
	var all fixedDays
	for _, inTime := range days {
		for d, n := range inTime {
			all[d] += n
		}
	}
	g.BestDay = all.best()
	for i, inTime := range days {
		g.Cells[i].One = float64(inTime[g.BestDay]) / float64(o.Fields)
	}
	return g, nil
}

// fixedDays counts the plots on which each day after planting is in time.
type fixedDays [longest]int

func (f *fixedDays) best() int {
	best := 0
	for d, n := range f {
		if n > f[best] {
			best = d
		}
	}
	return best
}

// play fills in the cell, except One.
func (c *Cell) play(r *rand.Rand, o *GridOptions, clock *clock, heat *warmth) (inTime fixedDays) {
	mean := field{clock: clock, slow: 1, wet: float64(c.Water) / float64(WaterMoist), heat: heat}
	middle := mean.grow(heat.from, 0, false)
	c.Opens, c.Closes = middle.have(2), middle.have(4)
	season := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: heat.from, RowSpacingCM: 25,
		HillSpacingCM: 25, Flood: c.Water.told()}, Tool: engine.Tool{WidthCM: 15}, Weather: steady(c.MeanC)}
	part := 1 / float64(o.Fields)
	for range o.Fields {
		f := newField(r, clock, 1, DefaultScatter, c.Water, heat)
		w := f.grow(heat.from, startScatter*r.NormFloat64(), false)
		for d := engine.FirstPassDays; d < longest; d++ {
			if w.rightSize(heat.from + engine.Day(d)) {
				inTime[d]++
			}
		}
		score := func(to *float64, looks float64) int {
			day, n := advise(season, &w, looks, r)
			if day != 0 && w.rightSize(day) {
				*to += part
			}
			return n
		}
		c.Looks += part * float64(score(&c.Look, 1))
		score(&c.Half, 0.5)
		score(&c.Never, 0)
	}
	c.OwnDay = inTime.best()
	c.Own = part * float64(inTime[c.OwnDay])
	for d := o.Habit.From; d <= o.Habit.To; d++ {
		c.Habit += part * float64(inTime[d]) / float64(o.Habit.To-o.Habit.From+1)
	}
	return inTime
}

// advise returns the day that the service names in the end, and the number of looks. Each time that the service asks
// for a look, the grower looks with the given chance. A grower who does not look is not asked again. The day is 0 where
// the service says that the weeds are too big for the tool.
func advise(s engine.Season, w *weeds, looks float64, r *rand.Rand) (day engine.Day, n int) {
	next := windows(s, s.Plot.Planted).Next
	for ask := next.AskOn; ask != 0 && r.Float64() < looks; ask = next.AskOn {
		s.Sightings = append(s.Sightings, engine.Sighting{On: ask, Leaves: see(w.leaves(ask), misreads, r)})
		next = windows(s, ask).Next
		n++
	}
	if next.Why == engine.WhySeenBig {
		return 0, n
	}
	return next.Best, n
}

// Score is the mean of a share over cells, and its lowest value.
type Score struct{ Mean, Worst float64 }

// Score returns the score of a share of the given cells.
func (g Grid) Score(of func(Cell) bool, share func(Cell) float64) Score {
	s, n := Score{Worst: math.Inf(1)}, 0
	for _, c := range g.Cells {
		if of(c) {
			s.Mean += share(c)
			s.Worst = min(s.Worst, share(c))
			n++
		}
	}
	s.Mean /= float64(max(1, n))
	return s
}

// Grounds returns the means over all clocks, one cell for each temperature and water. Their Clock is "".
func (g Grid) Grounds() []Cell {
	var out []Cell
	for i := 0; i < len(g.Cells); i += len(natureClocks) {
		m := Cell{MeanC: g.Cells[i].MeanC, Water: g.Cells[i].Water}
		for _, c := range g.Cells[i : i+len(natureClocks)] {
			const part = 1 / float64(len(natureClocks))
			m.Own += part * c.Own
			m.One += part * c.One
			m.Habit += part * c.Habit
			m.Look += part * c.Look
			m.Half += part * c.Half
			m.Never += part * c.Never
			m.Looks += part * c.Looks
		}
		out = append(out, m)
	}
	return out
}
