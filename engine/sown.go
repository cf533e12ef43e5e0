package engine

// anchored returns the first day on which row-sown rice stands firm enough for the tool: SownFirstFromDays days after
// sowing, and not before the rice has SownFirstLeaves leaves by its own clock. Rice that is in cold ground for
// SownFirstToDays days or more is checked by the grower's eye.
func (s *Season) anchored() Day {
	w := &s.Weather
	d, heat := s.Plot.Planted, 0.0
	for end := d + horizon; heat < RiceEmergence && d < end; {
		d++
		heat += w.riceHeat(d, CanopyBaseC)
	}
	heat = 0
	for end := d + horizon; heat < SownFirstLeaves*RicePhyllochron && d < end; {
		d++
		heat += w.riceHeat(d, RiceLeafBaseC)
	}
	return max(d, s.Plot.Planted+SownFirstFromDays)
}
