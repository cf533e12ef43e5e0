package engine

import (
	"cmp"
	"math"
	"slices"
)

// The weeds of a plot have a speed, a start and a clock that nobody knows exactly. belief is a distribution over all
// three on a grid:
//
//   - 4 published weed clocks, three of which depend on whether the ground was kept under water: 7 books;
//   - beliefSpeeds speeds: the heat that the weeds need, as a factor on the published heat. ln(factor) is normally
//     distributed around the factor of the place, with standard deviation SpeedSpread;
//   - beliefStarts starts: days that the weeds are late, normally distributed around 0 with standard deviation
//     StartSpreadDays.
//
// A grid point (book b, speed k, start y) says on which days after the last puddling or pass the weeds have L leaves:
//
//	t(L) = y + days in which the leaf clock of b sums S(e) + k L leafHeat, where e is the day on which the emergence
//	clock of b sums k emergenceHeat
//
// A leaf count of the grower is an interval of leaves, read with an error. It multiplies the weight of each point by
// the chance of this answer at the point's number of leaves (see look.go). All results are exact sums over the grid.
const (
	beliefSpeeds = 9
	beliefStarts = 5
	books        = 7

	speedStep = 0.5 // distance of two speeds on the grid, in standard deviations
	startStep = 1.0 // distance of two starts on the grid, in standard deviations
)

// normalWeights returns n weights of a standard normal distribution at points step apart around 0. Their sum is 1.
func normalWeights(n int, step float64) []float64 {
	w, sum := make([]float64, n), 0.0
	for i := range w {
		z := step * float64(i-n/2)
		w[i] = math.Exp(-z * z / 2)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

var speedWeights, startWeights = normalWeights(beliefSpeeds, speedStep), normalWeights(beliefStarts, startStep)

// speedFactors[i] is the factor of speed i of the grid on the heat of a plot at a place whose weed rate is 1.
var speedFactors = func() (f [beliefSpeeds]float64) {
	for i := range f {
		f[i] = math.Exp(SpeedSpread * speedStep * float64(i-beliefSpeeds/2))
	}
	return f
}()

// startDays[i] is start i of the grid in days.
var startDays = func() (d [beliefStarts]float64) {
	for i := range d {
		d[i] = StartSpreadDays * startStep * float64(i-beliefStarts/2)
	}
	return d
}()

// fieldWeights are the weights of the books and speeds of a plot. They hold for the whole season.
type fieldWeights [books][beliefSpeeds]float64

// belief is what is known about the weeds that grow since one puddling or pass.
type belief struct {
	from   Day
	prior  *fieldWeights                              // the weights of books and speeds before the first look
	weight [books][beliefSpeeds][beliefStarts]float64 // their sum is 1
	point  [books][beliefSpeeds]stages
}

// stages holds the days after belief.from, as fractions, on which the weeds of a grid point with start 0 reach a stage.
type stages struct{ up, opens, closes float64 }

// prior returns the weights of a season before anything was seen of its weeds.
func (s *Season) prior() (f fieldWeights) {
	kept, at := s.keptChance(), s.local()
	for b := range f {
		share := at.share(bookTable[b].clock)
		switch bookTable[b].water {
		case bookKept:
			share *= kept
		case bookWet:
			share *= 1 - kept
		}
		for i, w := range speedWeights {
			f[b][i] = share * w
		}
	}
	return f
}

// newBelief returns the belief about the weeds that grow since day from. emerged says that the weeds have emerged
// already on that day, because the pass left them.
func newBelief(field *fieldWeights, at *Local, heat *heatSums, from Day, emerged bool) *belief {
	var c belief
	c.from, c.prior = from, field
	began := float64(from - heat.from)
	for b := range c.weight {
		up, opens, closes := began, began, began
		for i, factor := range speedFactors {
			factor /= at.rate(bookTable[b].clock)
			up, opens, closes = bookTable[b].stages(heat, factor, began, emerged, up, opens, closes)
			c.point[b][i] = stages{up - began, opens - began, closes - began}
		}
	}
	c.weigh()
	return &c
}

// weigh sets the weights to those before the first look.
func (c *belief) weigh() {
	for b := range c.weight {
		for i := range c.weight[b] {
			for j, w := range startWeights {
				c.weight[b][i][j] = c.prior[b][i] * w
			}
		}
	}
}

// stages returns when weeds that need factor times the published heat have emerged, have two and have four leaves, in
// days after the first day of heat. The clock starts at began. The last three parameters are results for a smaller
// factor, from which the search goes on.
func (b *book) stages(heat *heatSums, factor, began float64, emerged bool,
	up, opens, closes float64) (_, _, _ float64) {
	if !emerged {
		up = heat.reach(b.upBase, heat.at(b.upBase, began)+factor*b.upHeat, up)
	}
	leaf := heat.at(b.leafBase, up)
	opens = heat.reach(b.leafBase, leaf+factor*WindowOpensLeaves*b.leafHeat, opens)
	return up, opens, heat.reach(b.leafBase, leaf+factor*WindowClosesLeaves*b.leafHeat, closes)
}

// field returns the weights of books and speeds, summed over the starts.
func (c *belief) field() (f fieldWeights) {
	for b := range c.weight {
		for i := range c.weight[b] {
			for _, w := range c.weight[b][i] {
				f[b][i] += w
			}
		}
	}
	return f
}

// leaves returns the number of leaves of the weeds of a grid point t days after from. It interpolates linearly between
// emergence, two leaves and four leaves, and goes on at the same pace after that.
func (p stages) leaves(t float64) float64 {
	switch {
	case t <= p.up:
		return 0
	case t < p.opens:
		return WindowOpensLeaves * (t - p.up) / (p.opens - p.up)
	case p.closes <= p.opens:
		return WindowClosesLeaves
	}
	return WindowOpensLeaves + (WindowClosesLeaves-WindowOpensLeaves)*(t-p.opens)/(p.closes-p.opens)
}

// see multiplies each weight by the chance that a grower gives this answer on day d. If no clock expected the answer
// (its chance is under SurpriseChance), the weeds of this plot came up at another time than the clocks say, as on a
// clean field or with a second flush. Then the eye counts alone: see moves the days of each grid point so that the
// weeds have the given number of leaves on day d.
func (c *belief) see(d Day, chance *leafChance, leaves float64) {
	sum := c.multiply(d, chance)
	if sum < SurpriseChance {
		c.weigh()
		c.move(float64(d-c.from), leaves)
		sum = c.multiply(d, chance)
	}
	for b := range c.weight {
		for i := range c.weight[b] {
			for j := range c.weight[b][i] {
				c.weight[b][i][j] /= sum
			}
		}
	}
}

// multiply multiplies each weight by the chance of an answer on day d, and returns the sum of the weights.
func (c *belief) multiply(d Day, chance *leafChance) (sum float64) {
	for b := range c.weight {
		for i := range c.weight[b] {
			for j := range c.weight[b][i] {
				w := c.weight[b][i][j] * chance.at(c.point[b][i].leaves(float64(d-c.from)-startDays[j]))
				c.weight[b][i][j] = w
				sum += w
			}
		}
	}
	return sum
}

// move moves the days of each grid point so that the weeds have the given number of leaves t days after from. It takes
// the temperatures as those of the old days.
func (c *belief) move(t, leaves float64) {
	for b := range c.point {
		for i := range c.point[b] {
			p := &c.point[b][i]
			by := t - p.reaches(leaves)
			p.up, p.opens, p.closes = p.up+by, p.opens+by, p.closes+by
		}
	}
}

// reaches is the inverse of leaves, for leaves >= 0.
func (p stages) reaches(leaves float64) float64 {
	if leaves <= WindowOpensLeaves {
		return p.up + (p.opens-p.up)*leaves/WindowOpensLeaves
	}
	return p.opens + (p.closes-p.opens)*(leaves-WindowOpensLeaves)/(WindowClosesLeaves-WindowOpensLeaves)
}

// inWindow returns, for each day from c.from on, the chance that the weeds have two to four leaves on that day.
func (c *belief) inWindow() []float64 {
	var change [horizon + 2]float64
	last := 0
	for b := range c.weight {
		for i := range c.weight[b] {
			p := c.point[b][i]
			if by := bookTable[b].closesBy; by != b {
				p.closes = min(p.closes, c.point[by][i].closes)
			}
			for j, w := range c.weight[b][i] {
				opens := min(max(0, int(math.Ceil(p.opens+startDays[j]))), horizon)
				closes := min(int(math.Floor(p.closes+startDays[j])), horizon)
				if closes >= opens {
					change[opens] += w
					change[closes+1] -= w
					last = max(last, closes)
				}
			}
		}
	}
	out, sum := make([]float64, last+1), 0.0
	for d := range out {
		sum += change[d]
		out[d] = max(0, sum)
	}
	return out
}

// reached returns the first day on which the weeds have the given number of leaves, at most two, with the given chance.
func (c *belief) reached(leaves, chance float64) Day {
	var begins [horizon + 1]float64
	for b := range c.weight {
		for i := range c.weight[b] {
			p := c.point[b][i]
			t := p.reaches(leaves)
			for j, w := range c.weight[b][i] {
				begins[min(max(0, int(math.Ceil(t+startDays[j]))), horizon)] += w
			}
		}
	}
	sum := 0.0
	for d, w := range begins {
		if sum += w; sum >= chance {
			return c.from + Day(d)
		}
	}
	return c.from + horizon
}

// leaves returns the mean number of leaves on day d.
func (c *belief) leaves(d Day) float64 {
	mean := 0.0
	for b := range c.weight {
		for i := range c.weight[b] {
			for j, w := range c.weight[b][i] {
				mean += w * c.point[b][i].leaves(float64(d-c.from)-startDays[j])
			}
		}
	}
	return mean
}

// between returns the range of leaves on day d that holds the given share of the chances, with as many below as above.
func (c *belief) between(d Day, share float64) (low, high float64) {
	type chance struct{ leaves, weight float64 }
	all := make([]chance, 0, books*beliefSpeeds*beliefStarts)
	for b := range c.weight {
		for i := range c.weight[b] {
			for j, w := range c.weight[b][i] {
				all = append(all, chance{c.point[b][i].leaves(float64(d-c.from) - startDays[j]), w})
			}
		}
	}
	slices.SortFunc(all, func(a, b chance) int { return cmp.Compare(a.leaves, b.leaves) })
	// Without chanceStep, a sum that is equal to a bound is below it on one day and above it on the next, because the
	// order of the points changes, and the range could go back.
	below, low, high := 0.0, all[0].leaves, all[0].leaves
	for _, x := range all {
		if below <= (1-share)/2+chanceStep {
			low = x.leaves
		}
		if below <= (1+share)/2+chanceStep {
			high = x.leaves
		}
		below += x.weight
	}
	return low, high
}
