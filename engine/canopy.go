package engine

import (
	"iter"
	"math"
)

// EndWhy says what ends the tool's season.
type EndWhy uint8

const (
	EndRowsClose EndWhy = iota + 1 // the model: the crop shades the ground
	EndPlantsBig                   // plants so big that the tool damages them
	EndSeen                        // the grower saw the rows closed
	EndHandDates                   // the last of the usual hand-weeding days
	EndGrower                      // the grower closed the plot
)

func (e EndWhy) String() string {
	return name(e, "", "rows close", "plants too big", "rows seen closed", "last hand weeding", "closed by the grower")
}

// Closure is the end of the season for the tool.
type Closure struct {
	LastToolDay   Day // no window after this day
	RowsClose     Day // first day on which the crop shades 85 % of the ground (model)
	PlantsBig     Day // from here on the tool damages plants
	PanicleStarts Day // panicle initiation; from here on push gently and keep off the plants
	Why           EndWhy
}

// closure works out the end of the season. The grower's word on the rows
// beats the model; the plants' size bounds both.
func (s Season) closure() Closure {
	p := s.Plot
	c := Closure{PanicleStarts: p.PanicleInitiation(), Why: EndRowsClose}
	if s.fit().Hand() {
		days := handDays(p.Method)
		c.LastToolDay, c.Why = p.Planted+days[len(days)-1].To, EndHandDates
		return c
	}
	c.RowsClose, c.PlantsBig = s.cropEnds()
	rows := c.RowsClose
	for _, seen := range s.Sightings {
		switch seen.Rows {
		case RowsClosed:
			rows, c.Why = seen.On, EndSeen
		case RowsOpen:
			rows, c.Why = max(c.RowsClose, seen.On+RowsOpenHoldsDays), EndRowsClose
		}
	}
	c.LastToolDay = rows - 1
	if c.PlantsBig-1 < c.LastToolDay {
		c.LastToolDay, c.Why = c.PlantsBig-1, EndPlantsBig
	}
	return c
}

// crop is how far the rice has grown by a day.
type crop struct {
	heat float64 // rice degree-days since growth began
	lai  float64 // leaf area index, m2 of leaf per m2 of ground
}

// growth walks the season day by day, leaf area growing logistically in
// degree-days:
//
//	LAI += r dd LAI (1 - LAI/ceiling)
//
// Transplanted rice first stands still while it takes root, for a share of
// the heat it had in the nursery. A sown plant reaches the leaf area of a
// seedling at the usual seedling age, with no check from being moved. Rate,
// ceiling and share stand in the table of facts.
func (s Season) growth() iter.Seq2[Day, crop] {
	return func(yield func(Day, crop) bool) {
		w, f := &s.Weather, &s.local().Figures
		begin, pause := s.Plot.Planted, 0.0
		if s.Plot.Method == Transplanted {
			for d := begin - Day(s.Plot.seedlingAge()); d < begin; d++ {
				pause += f.TransplantPause * w.riceHeat(d, f.CanopyBaseC)
			}
		} else {
			begin += DefaultSeedlingAgeDays
		}
		now := crop{lai: s.Plot.firstLAI(f)}
		for d := begin; d <= begin+horizon && yield(d, now); d++ {
			gain := w.riceHeat(d+1, f.CanopyBaseC)
			now.heat += gain
			growing := min(gain, max(0, now.heat-pause))
			now.lai += f.LeafGrowthRate * growing * now.lai * (1 - now.lai/f.LeafCeiling)
		}
	}
}

// firstLAI is the leaf area index on the day from which growth counts.
func (p Plot) firstLAI(f *Figures) float64 {
	plants := f.SownPlantsPerM2
	if h := p.HillsPerM2(); h > 0 {
		plants = h * float64(p.seedlings())
	} else if p.Method == Transplanted && p.RowSpacingCM > 0 {
		// Spacing in the row not told: taken as square, the usual practice
		// with the tool.
		plants = 1e4 / (p.RowSpacingCM * p.RowSpacingCM) * float64(p.seedlings())
	}
	return plants * SeedlingLeafCM2 / 1e4
}

// cropEnds returns the first day on which the crop shades ClosedShade of the
// ground (85 to 95 % shade stops weeds, Tropical Agriculture 56(4)), and the
// first on which its plants are too big for the tool: PlantsBigHeat rice
// degree-days since growth began. A day that never comes is the last walked.
func (s Season) cropEnds() (rowsClose, plantsBig Day) {
	lai := LeafForShade(ClosedShade, s.local().Figures.LightExtinction)
	closed, big := false, false
	for d, now := range s.growth() {
		if !closed {
			rowsClose, closed = d, now.lai >= lai
		}
		if !big {
			plantsBig, big = d, now.heat >= PlantsBigHeat
		}
		if closed && big {
			break
		}
	}
	return rowsClose, plantsBig
}

// Shade is the share of the ground that the crop shades on day d, 0..1.
func (s Season) Shade(d Day) float64 {
	lai := 0.0
	for x, now := range s.growth() {
		if x > d {
			break
		}
		lai = now.lai
	}
	return ShadeOfLeaf(lai, s.local().Figures.LightExtinction)
}

// ShadeOfLeaf is the share of light, 0..1, that a leaf area index keeps from
// the ground at extinction k (rice: 0.4 erect and young, to 0.7):
//
//	f = 1 - exp(-k LAI)
//
// Source: the light law as in Li Yan-da et al. 2010 (Sci. Agric. Sinica).
func ShadeOfLeaf(lai, k float64) float64 { return 1 - math.Exp(-k*lai) }

// LeafForShade is the leaf area index that keeps the share f, 0 <= f < 1, of
// light from the ground: ShadeOfLeaf the other way round.
func LeafForShade(f, k float64) float64 { return -math.Log(1-f) / k }

// PanicleInitiation is duration - 65 days after sowing (reproductive 35 and
// ripening 30 days in the tropics; IRRI growth stages page), counted from the
// seed: seedlings bring their age along.
func (p Plot) PanicleInitiation() Day {
	sown := p.Planted
	if p.Method == Transplanted {
		sown -= Day(p.seedlingAge())
	}
	return sown + Day(p.duration()-PanicleBeforeHarvestDays)
}

// span is a range of days after planting; both belong to it.
type span struct{ From, To Day }

// handCalendar is a season's weedings by hand.
type handCalendar [3]span

// handDays are the usual hand-weeding days without a tool (IRRI manual weed
// control sheet: within two weeks, again at 30-32 and 40-42 days after
// transplanting, or at 40-42 and 50-52 after sowing).
func handDays(m Method) handCalendar {
	first := span{HandFirstFrom, HandFirstTo}
	if m == Transplanted {
		return handCalendar{first, {HandSecondDATFrom, HandSecondDATTo}, {HandThirdDATFrom, HandThirdDATTo}}
	}
	return handCalendar{first, {HandSecondDASFrom, HandSecondDASTo}, {HandThirdDASFrom, HandThirdDASTo}}
}
