package engine

import (
	"iter"
	"math"
)

// EndWhy says what ends the season of the tool on a plot.
type EndWhy uint8

const (
	EndRowsClose EndWhy = iota + 1 // by the model, the crop shades the ground
	EndPlantsBig                   // by the model, the plants are so big that the tool would damage them
	EndSeen                        // the grower saw that the rows had closed
	EndHandDates                   // the last of the usual hand-weeding days is over
	EndGrower                      // the grower closed the plot
	EndPanicle                     // panicles begin to form in the plants, which the tool must not touch any more
)

func (e EndWhy) String() string {
	return name(e, "", "rows close", "plants too big", "rows seen closed", "last hand weeding", "closed by the grower",
		"panicles form")
}

// Closure says when the tool can no longer be used on a plot, and why.
type Closure struct {
	LastToolDay   Day // there is no window after this day
	RowsClose     Day // first day on which the crop shades ClosedShade of the ground, by the model
	PlantsBig     Day // first day on which the plants are too big for the tool, by the model
	PanicleStarts Day // day of panicle initiation; from this day on the tool must not touch the plants
	// PullUntil is the last day on which weeds are worth pulling by hand although the tool must not be used any more:
	// the rows are open and the critical period lasts. 0 = there is no such day.
	PullUntil Day
	Why       EndWhy
}

// closure computes the last day of the tool. The last sighting of the rows corrects the model: closed rows close on the
// day of the sighting; open rows stay open for at least RowsOpenHoldsDays days from then on. The last day is always
// before PlantsBig.
func (s Season) closure() Closure {
	p := s.Plot
	c := Closure{PanicleStarts: s.PanicleInitiation(), Why: EndRowsClose}
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
	if c.PanicleStarts-1 < c.LastToolDay {
		c.LastToolDay, c.Why = c.PanicleStarts-1, EndPanicle
	}
	critical := p.Planted + Day(CriticalPeriodOf(p.Method).To)
	if until := min(rows-1, critical); until > c.LastToolDay {
		c.PullUntil = until
	}
	return c
}

// crop is the state of the rice on a day.
type crop struct {
	heat float64 // rice degree-days since growth began
	lai  float64 // leaf area index, m2 of leaf per m2 of ground
}

// growth yields the crop of each day. Leaf area grows logistically with degree-days:
//
//	LAI += r dd LAI (1 - LAI/ceiling)
//
// where dd is the degree-days of the day, r is LeafGrowthRate and the ceiling is LeafCeiling. Transplanted rice pauses
// until it has new roots, for TransplantPause times the degree-days of the nursery, and for DeepPause more if the
// seedlings stand deep. Sown rice has the leaf area of a seedling DefaultSeedlingAgeDays days after sowing.
func (s Season) growth() iter.Seq2[Day, crop] {
	return func(yield func(Day, crop) bool) {
		w, f := &s.Weather, &s.local().Figures
		begin, pause := s.growthBegins()
		now := crop{lai: s.Plot.firstLAI(f)}
		for d := begin; d <= begin+horizon && yield(d, now); d++ {
			gain := w.riceHeat(d+1, f.CanopyBaseC)
			now.heat += gain
			growing := min(gain, max(0, now.heat-pause))
			now.lai += f.LeafGrowthRate * growing * now.lai * (1 - now.lai/f.LeafCeiling)
		}
	}
}

// growthBegins returns the day on which growth begins, and the degree-days for which leaf area then stands still.
func (s *Season) growthBegins() (begin Day, pause float64) {
	begin = s.Plot.Planted
	if s.Plot.Method != Transplanted {
		return begin + DefaultSeedlingAgeDays, 0
	}
	f := &s.local().Figures
	for d := begin - Day(s.Plot.seedlingAge()); d < begin; d++ {
		pause += f.TransplantPause * s.Weather.riceHeat(d, f.CanopyBaseC)
	}
	return begin, pause + s.Plot.deepPause()
}

// deepPause returns the degree-days for which leaf area stands still longer because the seedlings were planted deep.
func (p *Plot) deepPause() float64 {
	if p.Deep && p.Method == Transplanted {
		return DeepPause
	}
	return 0
}

// firstLAI returns the leaf area index when growth begins.
func (p Plot) firstLAI(f *Figures) float64 {
	plants := f.SownPlantsPerM2
	if h := p.HillsPerM2(); h > 0 {
		plants = h * float64(p.seedlings())
	} else if p.Method == Transplanted && p.RowSpacingCM > 0 {
		// Without a hill spacing, the row spacing is used (common practice with the tool).
		plants = 1e4 / (p.RowSpacingCM * p.RowSpacingCM) * float64(p.seedlings())
	}
	return plants * SeedlingLeafCM2 / 1e4
}

// cropEnds returns the first day on which the crop shades ClosedShade of the ground (85 to 95 % shade stops weeds,
// Tropical Agriculture 56(4)), and the first day on which plants are too big for the tool, PlantsBigHeat degree-days
// after growth began. If this does not happen within horizon days, the result is the last of these days.
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

// Shade returns the share of the ground, 0 to 1, that the crop shades on day d.
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

// ShadeOfLeaf returns the share of light, 0 to 1, that a crop of this leaf area index intercepts with extinction
// coefficient k (rice: 0.4 for young, erect plants, up to 0.7):
//
//	f = 1 - exp(-k LAI)
//
// Source: the light law as in Li Yan-da et al. 2010 (Sci. Agric. Sinica).
func ShadeOfLeaf(lai, k float64) float64 { return 1 - math.Exp(-k*lai) }

// LeafForShade is the inverse of ShadeOfLeaf, 0 <= f < 1.
func LeafForShade(f, k float64) float64 { return -math.Log(1-f) / k }

// PanicleInitiation returns the day on which panicles begin to form. If no duration was told, the degree-days from
// sowing decide; see panicleAfter. Otherwise it is the last day from which the degree-days up to ripeness are at least
// PanicleToRipeHeat, or PanicleToRipeMost of all degree-days from sowing to ripeness if these are fewer.
func (s *Season) PanicleInitiation() Day {
	if s.Plot.DurationDays == 0 {
		return s.panicleAfter(SownToPanicleHeat)
	}
	d, heat := s.ripe()
	least := min(PanicleToRipeHeat, PanicleToRipeMost*heat)
	for heat = s.panicleHeat(d); heat < least && d > s.Plot.sown(); {
		d--
		heat += s.panicleHeat(d)
	}
	return d
}

// ripe returns the day of ripeness of a variety whose duration was told, and the degree-days from sowing to that day.
// The day is RipeToHarvestDays before the told harvest. In a place that gives less heat up to then than usual varieties
// need, UsualRipeHeat, the duration may have been told for a warm place: the rice is not ripe before it has the heat of
// these days at ToldDurationC, or UsualRipeHeat if that is less.
func (s *Season) ripe() (d Day, heat float64) {
	d = s.Plot.sown()
	told := s.Plot.harvest() - RipeToHarvestDays
	least := min(UsualRipeHeat, float64(told-d)*(ToldDurationC-CanopyBaseC))
	for end := d + horizon; (d < told || heat < least) && d < end; {
		d++
		heat += s.panicleHeat(d)
	}
	return d, heat
}

// panicleAfter returns the day on which the rice has the given degree-days since sowing. Transplanting delays this day
// by TransplantShock of the degree-days that the seedlings had in the nursery.
func (s *Season) panicleAfter(least float64) Day {
	d, heat := s.Plot.sown(), 0.0
	for last := d + horizon; heat < least && d < last; {
		d++
		dd := s.panicleHeat(d)
		heat += dd
		if d <= s.Plot.Planted {
			least += TransplantShock * dd
		}
	}
	return d
}

// panicleHeat returns the degree-days of day d that count for the development of panicles.
func (s *Season) panicleHeat(d Day) float64 {
	w := s.Weather.at(d)
	return min(max(0, (w.MaxC+w.MinC)/2-CanopyBaseC), PanicleBestC-CanopyBaseC)
}

// sown returns the day of sowing, in the nursery or in the field.
func (p *Plot) sown() Day {
	if p.Method == Transplanted {
		return p.Planted - Day(p.seedlingAge())
	}
	return p.Planted
}

// harvest returns the day of harvest. The variety's duration is counted from sowing, so it includes the days that
// transplanted seedlings spent in the nursery.
func (p *Plot) harvest() Day { return p.sown() + Day(p.duration()) }

// span is a range of days after planting, both ends included.
type span struct{ From, To Day }

// waits returns the range, moved to begin on day d if d is after its end.
func (p span) waits(d Day) span {
	if d <= p.To {
		return p
	}
	return span{d, d + p.To - p.From}
}

// handCalendar holds the three usual hand-weedings of a season.
type handCalendar [3]span

// handDays returns the usual days of hand-weeding: days 10 to 14 after planting (within two weeks; day 10 is chosen
// here), then 30-32 and 40-42 after transplanting, or 40-42 and 50-52 after sowing (IRRI, fact sheet Manual weed
// control).
func handDays(m Method) handCalendar {
	first := span{HandFirstFrom, HandFirstTo}
	if m == Transplanted {
		return handCalendar{first, {HandSecondDATFrom, HandSecondDATTo}, {HandThirdDATFrom, HandThirdDATTo}}
	}
	return handCalendar{first, {HandSecondDASFrom, HandSecondDASTo}, {HandThirdDASFrom, HandThirdDASTo}}
}
