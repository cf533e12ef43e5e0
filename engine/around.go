package engine

import (
	"cmp"
	"slices"
)

// OtherKind is a kind of work on a plot that is not a weeding but belongs to it: it keeps weeds from growing, or is
// done before or after a pass.
type OtherKind uint8

const (
	PuddleFirst       OtherKind = iota + 1 // first puddling, so that weeds come up before the last puddling buries them
	PuddleLast                             // last puddling and levelling
	FillGaps                               // plant seedlings where hills are missing
	FillGapsAgain                          // the same a week later
	ToolCare                               // wash, grease and check the tool after a pass
	TopDressTillering                      // first top-dressing; only for growers who top-dress
	DrainTillering                         // drain for some days when tillering ends; only some growers do
	TopDressPanicle                        // last top-dressing; only for growers who top-dress
	DrainHarvest                           // let the water off before harvest
)

func (k OtherKind) String() string {
	return name(k, "", "puddle first", "puddle last", "fill gaps", "fill gaps again", "tool care",
		"top-dress at tillering", "drain after tillering", "top-dress at panicles", "drain before harvest")
}

// OtherWork is one such work with its days, both included.
type OtherWork struct {
	Kind     OtherKind
	From, To Day
	When     Timing
}

// Timing says where the days of a work lie, seen from the day of the plan.
type Timing uint8

const (
	Coming Timing = iota + 1 // its first day is still to come
	Due                      // today is one of its days
	Past                     // its last day is over
)

func (t Timing) String() string { return name(t, "", "coming", "due", "past") }

// Around returns the works around the passes in the order of their first days, as seen on day today. The days follow
// from planting, the last pass and panicle initiation. A top-dressing is for growers who top-dress: the engine gives no
// amounts. Weeds are controlled before it (Guyana Rice Development Board, Paddy production: tillering stage management
// considerations, http://grdb.gy/paddy-production-tillering-stage-management-considerations/, read).
func (s Season) Around(today Day) []OtherWork {
	s = s.asOf(today)
	p := s.Plot
	last := p.puddled()
	works := []OtherWork{
		{Kind: PuddleFirst, From: last - PuddleApartDays - PuddleFirstDays, To: last - PuddleApartDays},
		{Kind: PuddleLast, From: last - PuddleLastDays, To: last},
	}
	if p.Method == Transplanted {
		works = append(works,
			OtherWork{Kind: FillGaps, From: p.Planted + 1, To: p.Planted + GapsDays},
			OtherWork{Kind: FillGapsAgain, From: p.Planted + GapsAgainDays - PrepareDays,
				To: p.Planted + GapsAgainDays})
	}
	if n := len(s.logged()); n > 0 && s.logged()[n-1].With == ByTool {
		pass := s.logged()[n-1]
		works = append(works, OtherWork{Kind: ToolCare, From: pass.On, To: pass.On + ToolCareDays})
	}
	panicle := s.PanicleInitiation()
	from, to := s.tillering()
	if to = min(to, panicle-1); from <= to {
		works = append(works, OtherWork{Kind: TopDressTillering, From: from, To: to})
	}
	harvest := s.harvestFrom(panicle)
	if drain := panicle - DrainDays; drain >= p.Planted+DrainAfterDays {
		works = append(works, OtherWork{Kind: DrainTillering, From: drain, To: panicle - 1})
	}
	works = append(works,
		OtherWork{Kind: TopDressPanicle, From: panicle, To: panicle + TopDressDays},
		OtherWork{Kind: DrainHarvest, From: harvest - DrainHarvestDays, To: harvest})
	for i := range works {
		works[i].When = works[i].timing(today)
	}
	slices.SortStableFunc(works, func(a, b OtherWork) int { return cmp.Compare(a.From, b.From) })
	return works
}

func (o OtherWork) timing(today Day) Timing {
	switch {
	case today < o.From:
		return Coming
	case today <= o.To:
		return Due
	}
	return Past
}

// SnailsEat reports whether apple snails may still eat the plants on day d: up to SnailDays days after planting.
func (s Season) SnailsEat(d Day) bool { return d <= s.Plot.Planted+SnailDays }

// tillering returns the first and the last day of active tillering by the rice degree-days since growth began, without
// the pause after transplanting.
func (s *Season) tillering() (from, to Day) {
	begin, pause := s.growthBegins()
	f, heat := &s.local().Figures, -pause
	from = begin
	for to = begin; heat < TilleringToHeat && to < begin+horizon; {
		to++
		if heat < TilleringFromHeat {
			from = to
		}
		heat += s.Weather.riceHeat(to, f.CanopyBaseC)
	}
	return from, to
}

// harvestFrom returns the day of harvest, RipeToHarvestDays after ripeness: see ripe if the grower told a duration.
// Otherwise ripeness follows by heat from panicle initiation.
func (s *Season) harvestFrom(panicle Day) Day {
	if s.Plot.DurationDays != 0 {
		d, _ := s.ripe()
		return d + RipeToHarvestDays
	}
	d, heat := panicle, 0.0
	for end := d + horizon; heat < PanicleToRipeHeat && d < end; {
		d++
		heat += s.panicleHeat(d)
	}
	return d + RipeToHarvestDays
}
