package engine

// Summary sums up the logged passes of a season, for the grower and the operator. Times are in person-hours, money is
// in the currency of the place.
type Summary struct {
	Passes      int     // passes logged; the parts of one weeding are one pass
	Part        float64 // share of the plot that the last pass weeded, if the rest is due; 0 = all of it
	ByHand      int     // passes without the tool
	InWindow    int     // passes inside the window that the engine had planned on the day before the pass
	FirstDay    Day     // day of the first pass; 0 = none
	LastDay     Day     // day of the last pass; 0 = none
	Hours       float64 // person-hours of the passes with logged hours and people
	LoggedHours int     // number of passes with logged hours and people
	Rounds      int     // number of rounds; a pass and all passes within FollowUpDays days after it are one round
	HandHours   float64 // person-hours that the Rounds would have taken by hand, by the model; 0 = area not given
	// Cost is the value of the family's hours plus, if the tool was used, its cost for one season; 0 = unknown.
	Cost float64
	// SavedHours is the person-hours that weeding by hand would have taken, minus the logged person-hours, for rounds
	// with the tool in which every pass has hours. It is negative if the tool took longer; 0 = unknown.
	SavedHours float64
}

// Summary sums up the season as known on day today. HandHours is
//
//	HandHoursPerHa x hectares x rounds x the grower's pace by hand
//
// where HandHoursPerHa is the value of the place in Figures, and the pace is the Factor of Pace.
func (s Season) Summary(today Day) Summary {
	s = s.asOf(today)
	weedings := s.allWeedings()
	sum := Summary{Passes: len(weedings), Part: s.part().Share}
	if sum.Passes == 0 {
		return sum
	}
	sum.FirstDay, sum.LastDay = weedings[0].On, weedings[sum.Passes-1].On
	byHand := s.handRound()
	for _, p := range s.logged() {
		sum.Hours += p.hoursOfAll()
	}
	for _, p := range weedings {
		if p.With == ByHand {
			sum.ByHand++
		}
		if p.hoursOfAll() > 0 {
			sum.LoggedHours++
		}
		if s.inWindow(p) {
			sum.InWindow++
		}
	}
	for rest := weedings; len(rest) > 0; {
		var r round
		r, rest = firstRound(rest)
		sum.Rounds++
		sum.HandHours += r.covered * byHand
		if byHand > 0 && r.tool && r.told {
			sum.SavedHours += r.covered*byHand - r.hours
		}
	}
	sum.Cost = s.spent(sum)
	return sum
}

// spent returns the cost so far: the hours of all passes at Prices.FamilyDay and, if the tool was used, one season of
// the tools, shared by Home.Neighbours. It returns 0 if hours or a price are missing.
func (s *Season) spent(sum Summary) float64 {
	p := s.local().Prices.For(s.Home)
	if sum.LoggedHours < sum.Passes || p.FamilyDay == 0 {
		return 0
	}
	cost := sum.Hours * p.FamilyDay / or(s.Home.HoursADay, DefaultHoursADay)
	if sum.ByHand == sum.Passes {
		return cost
	}
	if p.Tool == 0 {
		return 0
	}
	return cost + float64(max(1, s.Home.Tools))*p.toolSeason()/float64(max(1, s.Home.Neighbours))
}

// hoursOfAll returns the person-hours of a pass, the hours of all people together; 0 if hours or people are not given.
func (p Pass) hoursOfAll() float64 { return max(0, p.Hours*float64(p.People)) }

// inWindow reports whether a pass was inside the window that the engine planned on the day before the pass. A pass with
// the tool earlier than FirstPassDays after planting is never inside.
func (s Season) inWindow(p Pass) bool { return s.fell(p) == FellInside }

// round is a pass and all passes within FollowUpDays days after it: they count as weeding the plot once.
type round struct {
	tool  bool    // at least one pass was made with the tool
	told  bool    // all passes of the round have logged hours
	hours float64 // person-hours
	// covered is the share of the plot that was weeded, above 0 to 1.
	covered float64
}

// firstRound returns the first round of the passes, and the passes after this round. passes must not be empty.
func firstRound(passes []Pass) (r round, rest []Pass) {
	r.told = true
	begin := passes[0].On
	for len(passes) > 0 && passes[0].On <= begin+FollowUpDays {
		h := passes[0].hoursOfAll()
		r.tool = r.tool || passes[0].With == ByTool
		r.told = r.told && h > 0
		r.hours += h
		r.covered = min(1, r.covered+passes[0].covered())
		passes = passes[1:]
	}
	return r, passes
}

// handRound returns the person-hours that this grower needs to weed the plot once by hand; 0 if the area is not given.
func (s Season) handRound() float64 {
	return s.local().Figures.HandHoursPerHa * s.Plot.AreaM2 / 1e4 * s.pace(ByHand).Factor
}
