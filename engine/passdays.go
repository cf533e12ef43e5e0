package engine

// PassDays are the days on which the next pass can be made. The zero PassDays is a plot without a next pass.
type PassDays struct {
	Window     // Plan.Next
	Until  Day // last day on which a pass that missed the window is still worth its work; see PassDays
	// Chances are the chances, 0 to 1, that most weeds have two to four leaves on each day from Opens to Closes. nil if
	// the weeds are pulled by hand.
	Chances []float64
}

// PassDays returns the days for the next pass, as known on day today. It returns an error only if Validate does.
//
// Until follows from what the plan does with a missed window (judgement): the window is shown as missed until the next
// one begins, and a pass that late is still a pass of the missed window. So Until is the day before the next window
// begins, and not after the last day of the tool. If the grower saw that the weeds are too big for the tool, or if they
// are pulled by hand, Until is the day on which the window closes.
func (s Season) PassDays(today Day) (PassDays, error) {
	if err := s.Validate(); err != nil {
		return PassDays{}, err
	}
	s = s.asOf(today)
	plan := s.outline(today)
	d := PassDays{Window: plan.Next, Until: plan.Next.Closes}
	if !d.Exists() || d.With == ByHand {
		return d, nil
	}
	for len(s.Passes)+1 < d.Number { // the weeds of windows that were missed before count as pulled, as in the plan
		missed, _ := s.keepAnnounced(s.nextWindow(today), plan.Closure, today)
		s = s.pulled(missed)
	}
	d.Chances = s.Chances(today, d.Opens, d.Closes)
	if d.Why == WhySeenBig {
		return d, nil
	}
	until := plan.Closure.LastToolDay
	if after, ok := s.afterMissed(d.Window, plan.Closure); ok {
		until = min(until, after.begins()-1)
	}
	d.Until = max(d.Closes, until)
	return d, nil
}
