package engine

// Full is a plan with all that has to be decided around it: water, work,
// money, and what waiting may cost.
type Full struct {
	Plan
	Water Water
	Work  Work
	Costs Costs
	Risk  Risk
}

// Full works out everything about a season on a day. It fails only for a
// season that Validate refuses.
func (s Season) Full(today Day) (Full, error) {
	p, err := s.Plan(today)
	if err != nil {
		return Full{}, err
	}
	f := Full{Plan: p, Water: s.Water(today, p.Next), Work: s.Work(today, p.Next), Risk: s.riskOf(p)}
	f.Costs = s.Costs(s.WorkHours(p, f.Work))
	return f, nil
}

// WorkHours is what a season's weeding takes, for Costs: as many passes as
// were made and are still planned, done in the way that Work advises for
// these rows; or the usual rounds by hand.
func (s Season) WorkHours(p Plan, w Work) WorkHours {
	h := WorkHours{HandRoundHours: w.HandHours, HandRounds: len(handCalendar{}), Passes: p.Passes + len(p.Later)}
	if p.Next.Exists() {
		h.Passes++
	}
	h.Passes = max(1, h.Passes)
	h.ToolPassHours, h.PullHours = w.AlongHours, w.PullHours
	if w.BothHours > 0 {
		h.ToolPassHours, h.PullHours = w.BothHours, w.PullBothHours
	}
	return h
}
