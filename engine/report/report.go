// Package report adds up what became of many seasons: how many plots were planted, how often each was weeded, whether
// the passes fell into the windows, and how many hours they took. Sums are kept by place, month of planting and week,
// so that a report of any places and months is a sum of sums.
//
// The package knows no records and reads no clock: the caller brings the weedings of each plot. It names no person: a
// sum tells how many plots, not which.
package report

import (
	"math"

	"rowbell/engine"
)

// What says what a sum counts.
type What uint8

const (
	Plots      What = iota + 1 // planted plots; Bin = how often the plot was weeded, at most MostWeedings
	ToolPasses                 // passes with the tool; Bin = an engine.Fell
	HandPasses                 // weedings by hand; Bin = an engine.Fell
	ToolHours                  // passes with the tool and told hours; Bin = a bin of hours, see HoursBin
	HandHours                  // the same by hand, without what was pulled behind the tool
)

// MostWeedings is the highest bin of Plots: so many weedings or more.
const MostWeedings = 4

// Key names one sum.
type Key struct {
	Place int64
	Month Month // in which the plots were planted
	Week  Week  // of the weeding; for Plots of planting
	What  What
	Bin   int
}

// Field is the sums of many plots.
type Field map[Key]int64

// Add adds a plot that was planted on a day, and its weedings. What was pulled behind the tool is no further weeding of
// the plot.
func (f Field) Add(place int64, planted engine.Day, weedings []engine.Weeding) {
	key := Key{Place: place, Month: MonthOf(planted)}
	add := func(week Week, what What, bin int) {
		key.Week, key.What, key.Bin = week, what, bin
		f[key]++
	}
	times := 0
	for _, w := range weedings {
		passes, hours := ToolPasses, ToolHours
		if w.With == engine.ByHand {
			passes, hours = HandPasses, HandHours
		}
		add(WeekOf(w.On), passes, int(w.Fell))
		if w.Fell == engine.FellBehind {
			continue
		}
		times++
		if w.HoursPerHa > 0 {
			add(WeekOf(w.On), hours, HoursBin(w.HoursPerHa))
		}
	}
	add(WeekOf(planted), Plots, min(times, MostWeedings))
}

// Passes is how many passes fell where. The passes of all kinds of means are added up.
type Passes struct {
	Inside, Early, Late, NoWindow int64
	Behind                        int64 // pulled by hand behind the tool; not in All
}

// All returns the number of passes, without those behind the tool.
func (p Passes) All() int64 { return p.Inside + p.Early + p.Late + p.NoWindow }

func (p Passes) plus(q Passes) Passes {
	return Passes{p.Inside + q.Inside, p.Early + q.Early, p.Late + q.Late, p.NoWindow + q.NoWindow, p.Behind + q.Behind}
}

// Grown is the sums of one group of plots, for example of those of a place.
type Grown struct {
	Plots  [MostWeedings + 1]int64 // by the number of weedings
	Tool   Passes
	Hand   Passes
	Hours  Hours // of passes with the tool
	ByHand Hours // of weedings by hand
}

// Passes returns the passes with the tool and by hand together.
func (g *Grown) Passes() Passes { return g.Tool.plus(g.Hand) }

// Planted returns the number of plots.
func (g *Grown) Planted() (n int64) {
	for _, plots := range g.Plots {
		n += plots
	}
	return n
}

// Count adds plots or passes of one kind and bin.
func (g *Grown) Count(what What, bin int, n int64) {
	switch what {
	case Plots:
		g.Plots[max(0, min(bin, MostWeedings))] += n
	case ToolPasses:
		g.Tool.add(engine.Fell(bin), n)
	case HandPasses:
		g.Hand.add(engine.Fell(bin), n)
	case ToolHours:
		g.Hours.add(bin, n)
	case HandHours:
		g.ByHand.add(bin, n)
	}
}

// Plus adds the sums of other plots.
func (g *Grown) Plus(other *Grown) {
	for i, n := range other.Plots {
		g.Plots[i] += n
	}
	g.Tool, g.Hand = g.Tool.plus(other.Tool), g.Hand.plus(other.Hand)
	for i := range other.Hours {
		g.Hours[i] += other.Hours[i]
		g.ByHand[i] += other.ByHand[i]
	}
}

// Groups is the sums of groups of plots, for example of places.
type Groups[G comparable] map[G]*Grown

// Of returns the sums of a group, which it adds if it is not there.
func (all Groups[G]) Of(group G) *Grown {
	if all[group] == nil {
		all[group] = &Grown{}
	}
	return all[group]
}

// All adds up all groups.
func (all Groups[G]) All() *Grown {
	sum := &Grown{}
	for _, g := range all {
		sum.Plus(g)
	}
	return sum
}

// By adds up sums in groups. The function group returns the group of a sum.
func By[G comparable](f Field, group func(Key) G) Groups[G] {
	all := Groups[G]{}
	for k, n := range f {
		all.Of(group(k)).Count(k.What, k.Bin, n)
	}
	return all
}

func (p *Passes) add(where engine.Fell, n int64) {
	switch where {
	case engine.FellInside:
		p.Inside += n
	case engine.FellEarly:
		p.Early += n
	case engine.FellLate:
		p.Late += n
	case engine.FellNoWindow:
		p.NoWindow += n
	case engine.FellBehind:
		p.Behind += n
	}
}

// binsOfTen is how many bins of hours there are for each factor of ten: a bin is 10 % wide.
const binsOfTen = 24

// highestBin holds all hours from 10,000 h/ha on, which are slips of the pen.
const highestBin = 4 * binsOfTen

// HoursBin returns the bin of a number of hours per hectare, from 0 to highestBin. Bin 0 begins at 1 h/ha.
func HoursBin(perHa float64) int {
	if !(perHa > 1) { // also rejects NaN
		return 0
	}
	return int(min(highestBin, binsOfTen*math.Log10(perHa)))
}

// Hours is how many passes took how many hours per hectare, by bins.
type Hours [highestBin + 1]int64

func (h *Hours) add(bin int, n int64) { h[max(0, min(bin, highestBin))] += n }

// N returns the number of passes.
func (h *Hours) N() (n int64) {
	for _, passes := range h {
		n += passes
	}
	return n
}

// Below returns the hours per hectare that a share of the passes, 0 to 1, stays below. Within a bin the passes are
// spread evenly on the scale of ratios, so the result is off by at most the width of a bin, 10 %. It is 0 without
// passes.
func (h *Hours) Below(share float64) float64 {
	left := share * float64(h.N())
	for bin, n := range h {
		if n > 0 && left <= float64(n) {
			return math.Pow(10, (float64(bin)+left/float64(n))/binsOfTen)
		}
		left -= float64(n)
	}
	return 0
}
