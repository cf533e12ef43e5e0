package engine

// Summary is what a season came to: for the grower when the plot closes, and
// for the place. It counts what was logged, nothing else.
type Summary struct {
	Passes      int     // logged
	ByHand      int     // of them, without the tool
	InWindow    int     // of them, in the window as it was planned the day before
	FirstDay    Day     // of the first pass; 0 = none
	LastDay     Day     // of the last
	Hours       float64 // person-hours, of the passes that told hours and people
	LoggedHours int     // passes that told their hours
	Rounds      int     // times that the plot was gone over: a pass and what was pulled within FollowUpDays of it are one
	HandHours   float64 // person-hours that as many rounds by hand would have taken; 0 = area not told
	Cost        float64 // money: the logged hours at what a day of the family's is worth, and the tool's share of its years; 0 = unknown
	SavedHours  float64 // HandHours less Hours, over the tool's rounds that told all their hours; negative where the tool took longer; 0 = unknown
}

// Summary sums up the season as it was known on a day. HandHours is
//
//	HandHoursPerHa x hectares x rounds x own pace by hand
//
// with the place's figure and the grower's own pace as far as they logged any
// hand weeding (see Pace). It is an estimate, as good as that figure.
func (s Season) Summary(today Day) Summary {
	s = s.asOf(today)
	sum := Summary{Passes: len(s.Passes)}
	if sum.Passes == 0 {
		return sum
	}
	sum.FirstDay, sum.LastDay = s.Passes[0].On, s.Passes[sum.Passes-1].On
	byHand := s.handRound()
	for i, p := range s.Passes {
		if p.With == ByHand {
			sum.ByHand++
		}
		if h := p.hoursOfAll(); h > 0 {
			sum.LoggedHours++
			sum.Hours += h
		}
		if s.inWindow(i) {
			sum.InWindow++
		}
	}
	for rest := s.Passes; len(rest) > 0; {
		var r round
		r, rest = firstRound(rest)
		sum.Rounds++
		sum.HandHours += byHand
		if byHand > 0 && r.tool && r.told {
			sum.SavedHours += byHand - r.hours
		}
	}
	sum.Cost = s.spent(sum)
	return sum
}

// spent is what the season's weeding cost so far, in money: the hours of all
// passes at what a day of the family's work is worth, and where the tool was
// used, one season of it, or of the share in it that Home.Neighbours make. 0
// where a pass has no hours or a price is not told.
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
	return cost + p.toolSeason()/float64(max(1, s.Home.Neighbours))
}

// hoursOfAll are the person-hours of a pass; 0 where hours or people are not
// told.
func (p Pass) hoursOfAll() float64 { return max(0, p.Hours*float64(p.People)) }

// inWindow reports whether pass i fell within the window as planned the day
// before, with what was known then. The tool is never in time before the
// plants have rooted.
func (s Season) inWindow(i int) bool {
	p := s.Passes[i]
	if p.With == ByTool && p.On < s.Plot.Planted+FirstPassDays {
		return false
	}
	s.ClosedOn, s.Announced = 0, Window{}
	before := s.asOf(p.On - 1)
	return before.outline(p.On - 1).Next.Contains(p.On)
}

// round is once over a plot.
type round struct {
	tool  bool    // the tool had part in it
	told  bool    // each of its passes told its hours
	hours float64 // person-hours
}

// firstRound takes the first round off some passes: the first, and all within
// FollowUpDays of it.
func firstRound(passes []Pass) (r round, rest []Pass) {
	r.told = true
	begin := passes[0].On
	for len(passes) > 0 && passes[0].On <= begin+FollowUpDays {
		h := passes[0].hoursOfAll()
		r.tool = r.tool || passes[0].With == ByTool
		r.told = r.told && h > 0
		r.hours += h
		passes = passes[1:]
	}
	return r, passes
}

// handRound is what weeding this plot once by hand takes this grower, in
// person-hours; 0 where the area is not told.
func (s Season) handRound() float64 {
	return s.local().Figures.HandHoursPerHa * s.Plot.AreaM2 / 1e4 * s.pace(ByHand).Factor
}
