package engine

// anchored returns the first day on which row-sown rice stands firm enough for the tool: SownFirstFromDays days after
// sowing, and not before the rice has SownFirstLeaves leaves by the clock of seedlings.
func (s *Season) anchored() Day {
	for d, leaves := range s.Weather.seedling(s.Plot.Planted) {
		if leaves >= SownFirstLeaves {
			return max(d, s.Plot.Planted+SownFirstFromDays)
		}
	}
	return s.Plot.Planted + horizon
}
