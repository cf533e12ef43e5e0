package circle

// allApart is how a search begins: the plots of each home are apart in the network.
const allApart = ^uint64(0)

// maxTried is how many conflicts of a node are tried. Judgement: more take longer than they save.
const maxTried = 8

// part returns decisions that have together all rosters of d that count, if the flow has a conflict; any is false if
// it has none. value is the bound of the node.
//
// A conflict that costs nothing to avoid comes back on another day, and each decision about it doubles the search. So
// part first changes how the network sees the homes (other). If no change raises the bound, it tries the conflicts and
// takes the one whose children have the highest bounds.
func (s *search) part(d decision, value int64) (children []decision, any bool) {
	var conflicts []conflict
	for c := range s.m.conflicts(d) {
		conflicts = append(conflicts, c)
	}
	if len(conflicts) == 0 {
		return nil, false
	}
	here := s.m.net.save()
	if other, higher := s.other(d, conflicts, here, value); higher {
		return []decision{other}, true
	}
	most := int64(-infinite)
	for _, c := range conflicts[:min(len(conflicts), maxTried)] {
		left, rank := s.try(d, c, here)
		if len(left) < 2 {
			return left, true
		}
		if rank > most {
			children, most = left, rank
		}
	}
	return children, true
}

// other returns the decision with the plots of one home with a conflict together instead of apart, or apart instead of
// together: the one with the highest bound. higher is false if none is above value.
func (s *search) other(d decision, conflicts []conflict, here snapshot, value int64) (best decision, higher bool) {
	m := s.m
	tried := uint64(0)
	for _, c := range conflicts {
		bit := uint64(1) << m.plots[c.home.plots[0]].home
		if tried&bit != 0 {
			continue
		}
		tried |= bit
		next := d.clone()
		next.apart ^= bit
		if v := s.boundIn(c.home, d, next, here); v > value {
			best, value, higher = next, v, true
		}
	}
	return best, higher
}

// try returns the children of the conflict whose bounds do not show that none of their rosters counts. rank is large if
// the bounds are high, above all the lowest.
func (s *search) try(d decision, c conflict, here snapshot) (left []decision, rank int64) {
	least := int64(infinite)
	for _, child := range c.children {
		v := int64(infinite)
		if s.m.handsSuffice(child) {
			v = s.boundIn(c.home, d, child, here)
		}
		if v <= s.upper-s.step || v == s.upper && s.keep {
			left = append(left, child)
			least = min(least, v)
			rank += v / 4
		}
	}
	return left, rank + least
}

// boundIn returns the bound of a decision that differs from d only in the plots of the home, and restores the network.
func (s *search) boundIn(home *home, d, next decision, here snapshot) (value int64) {
	m := s.m
	m.applyIn(home, next, s.reward)
	value = infinite
	if m.net.optimise() {
		value = m.bound(next, s.reward, s.target).value
	}
	m.net.restore(here)
	m.applyIn(home, d, s.reward)
	return value
}
