package circle

import (
	"cmp"
	"slices"
)

// step returns the states after the day.
func (h *handover) step(day int) []state {
	x := &handoverStep{h: h, day: day, seen: map[string]int{}}
	m := h.s.m
	x.needy = make([]bool, len(m.p.Households))
	x.key = make([]byte, len(m.plots)+len(m.p.Tools)+1)
	for j := range h.days[day] {
		if h.s.cut {
			h.lost = true
			return nil
		}
		x.begin(j)
		x.assign(0, x.from.hand, x.least)
	}
	slices.SortStableFunc(x.states, func(a, b state) int {
		return cmp.Or(cmp.Compare(a.hand+a.more, b.hand+b.more), cmp.Compare(b.done, a.done))
	})
	x.states = h.undominated(x.states)
	if h.width > 0 && len(x.states) > h.width {
		h.lost = true
		x.states = x.states[:h.width]
	}
	return x.states
}

// activePlot is a plot that may have tools on the day.
type activePlot struct {
	plot int
	now  int64 // its least costs from this day on
	must bool  // without a tool on the day it costs more
	got  int   // tools that it has on the day
}

// handoverStep is the work of one day.
type handoverStep struct {
	h      *handover
	day    int
	from   *state
	parent int
	active []activePlot
	must   int    // active plots that must get a tool and have none yet
	least  int    // handovers of all days that follow from the state, at least
	needy  []bool // households that must still get a tool and have none
	key    []byte
	states []state
	seen   map[string]int // index of a state by its key; -1 if the state cannot be completed
}

// begin prepares the step from a state.
func (x *handoverStep) begin(parent int) {
	h, m := x.h, x.h.s.m
	x.from, x.parent = &h.days[x.day][parent], parent
	x.must, x.active = 0, x.active[:0]
	for i := range m.plots {
		code := x.from.key[i]
		if x.day < m.plots[i].first || code == over {
			continue
		}
		now, _ := h.costs(i, x.day-1, code)
		then, _ := h.costs(i, x.day, code)
		x.active = append(x.active, activePlot{plot: i, now: now, must: then > now})
		if then > now {
			x.must++
		}
	}
	x.least = x.from.hand + h.needy(x.day-1, []byte(x.from.key))
	copy(x.needy, h.named)
}

// assign tries all plots for tool k, and then for the tools after it. hand are the handovers so far; least is a lower
// bound of the handovers of all days: each further one is either one that was counted already, to a household that
// needs a tool and has none, or one more.
func (x *handoverStep) assign(k, hand, least int) {
	h, m := x.h, x.h.s.m
	if x.must > len(m.p.Tools)-k || hand >= h.most || least >= h.most {
		return
	}
	if k == len(m.p.Tools) {
		if !x.idles() {
			x.add(hand)
		}
		return
	}
	h.turn[k] = -1
	if !m.usable[k][x.day] || h.t.b.price[k][x.day] == 0 {
		x.assign(k+1, hand, least)
	}
	if !m.usable[k][x.day] {
		return
	}
	holder := x.from.key[len(m.plots)+k]
	for j := range x.active {
		a := &x.active[j]
		plot := &m.plots[a.plot]
		home := plot.household
		if plot.class[k] < 0 || h.used[home] >= m.hands[home][x.day] {
			continue
		}
		must, needy, nextHand, nextLeast := x.must, x.needy[home], hand, least
		if int(holder) != plot.number+1 {
			if holder != nobody {
				nextHand++
			}
			if !needy {
				nextLeast++
			}
			x.needy[home] = false
		}
		if a.got == 0 && a.must {
			x.must--
		}
		a.got++
		h.used[home]++
		h.turn[k] = j
		x.assign(k+1, nextHand, nextLeast)
		h.used[home]--
		a.got--
		x.must, x.needy[home] = must, needy
	}
	h.turn[k] = -1
}

// idles reports whether a tool is left unused on the day though the household that has it could use it on a plot for
// which all days are equal. Such a state is needless: see undominated.
func (x *handoverStep) idles() bool {
	h, m := x.h, x.h.s.m
	for k, j := range h.turn {
		holder := x.from.key[len(m.plots)+k]
		if j >= 0 || holder == nobody || holder == gone || !m.usable[k][x.day] {
			continue
		}
		home := m.plots[holder-1].household
		if h.used[home] >= m.hands[home][x.day] {
			continue
		}
		for _, a := range x.active {
			plot, hp := &m.plots[a.plot], &h.plots[a.plot]
			c := plot.class[k]
			if plot.household != home || !hp.even || x.day > hp.end {
				continue
			}
			if c < 0 || h.t.d.choices[a.plot].classes>>c&1 == 0 {
				continue
			}
			u, code := a.got, x.from.key[a.plot]
			if code == untouched && hp.several || code != untouched && int(code-1)/needs != c {
				continue
			}
			if code != untouched {
				u += int(code-1) % needs
			}
			if u < plot.classes[c].need && a.got < m.hand(h.t.d, a.plot, x.day) {
				return true
			}
		}
	}
	return false
}

// add adds the state that the tools' plots lead to, if its slack is 0 and it can still have few enough handovers.
func (x *handoverStep) add(hand int) {
	h, m := x.h, x.h.s.m
	if h.adds++; h.adds%addsOfNode == 0 {
		h.s.spent(1)
	}
	for g, home := range m.homes {
		if h.t.b.hands[g][x.day] > 0 && h.used[home.household] == 0 {
			return // the price of the hand is lost
		}
	}
	copy(x.key, x.from.key)
	st := state{hand: hand, parent: x.parent}
	for j := range x.active {
		a := &x.active[j]
		if !x.give(j, a) {
			return
		}
	}
	for k := range m.p.Tools {
		st.turn[k] = -1
		if h.turn[k] < 0 {
			continue
		}
		i := x.active[h.turn[k]].plot
		st.turn[k] = int8(i)
		x.key[len(m.plots)+k] = byte(m.plots[i].number + 1)
	}
	h.forget(x.key)
	st.place = h.sort(x.key)
	j, known := x.seen[string(x.key)]
	if known {
		if j >= 0 && hand < x.states[j].hand {
			st.key, st.more, st.done = x.states[j].key, x.states[j].more, x.states[j].done
			x.states[j] = st
		}
		return
	}
	st.key = string(x.key)
	if !h.fits(x.day, x.key) {
		x.seen[st.key] = -1
		return
	}
	st.more, st.done = max(0, h.needy(x.day, x.key)), h.done(x.key)
	if st.hand+st.more < h.most {
		x.seen[st.key] = len(x.states)
		x.states = append(x.states, st)
	}
}

// give writes the byte of active plot j after the day. It returns false if that has a slack or is not allowed.
func (x *handoverStep) give(j int, a *activePlot) bool {
	h, m := x.h, x.h.s.m
	plot := &m.plots[a.plot]
	code := x.key[a.plot]
	if a.got > 0 {
		c, u, cost := -1, 0, int64(0)
		if code != untouched {
			c, u = int(code-1)/needs, int(code-1)%needs
		}
		for k, of := range h.turn {
			if of != j {
				continue
			}
			if c < 0 {
				c = plot.class[k]
			}
			if c != plot.class[k] || u == plot.classes[c].need {
				return false
			}
			u++
			cost += m.dayCost(plot, x.day) + m.toldCost(plot, x.day, k) + h.t.b.price[k][x.day]
			cost += h.t.b.handPrice(plot, x.day)
		}
		if a.got > m.hand(h.t.d, a.plot, x.day) || cost+h.next(a.plot, c, x.day, u) > a.now {
			return false
		}
		code = byte(1 + c*needs + u)
		if u == plot.classes[c].need {
			code = over
			if x.day <= h.plots[a.plot].end {
				x.key[len(x.key)-1]++
			}
		}
	} else if a.must {
		return false
	}
	if x.day >= plot.last {
		code = over
	}
	x.key[a.plot] = code
	return true
}
