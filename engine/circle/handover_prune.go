package circle

import "slices"

// needy returns a lower bound of the handovers after the day: each household that must still get a tool and has none is
// a handover, except to a tool that nobody has had. It names these households. The bound may be negative.
func (h *handover) needy(day int, key []byte) int {
	m := h.s.m
	holders := key[len(m.plots) : len(key)-1]
	n := 0
	clear(h.named)
	for i := range m.plots {
		plot := &m.plots[i]
		if key[i] == over || h.named[plot.household] || slices.Contains(holders, byte(plot.number+1)) {
			continue
		}
		if rest, after := h.costs(i, max(day, plot.first-1), key[i]); after > rest {
			h.named[plot.household] = true
			n++
		}
	}
	for _, holder := range holders {
		if holder == nobody {
			n--
		}
	}
	return n
}

// forget names the holders that get no tool any more gone, so that more states are equal.
func (h *handover) forget(key []byte) {
	m := h.s.m
	clear(h.named)
	for i := range m.plots {
		if key[i] != over {
			h.named[m.plots[i].household] = true
		}
	}
	for k := range m.p.Tools {
		holder := &key[len(m.plots)+k]
		if *holder != nobody && *holder != gone && !h.named[m.plots[*holder-1].household] {
			*holder = gone
		}
	}
}

// sort puts equal tools in the order of their holders, and returns in whose place each tool is then.
func (h *handover) sort(key []byte) (place [maxSearchTools]int8) {
	m := h.s.m
	holder := key[len(m.plots):]
	for k := range place {
		place[k] = int8(k)
	}
	for k := range m.p.Tools {
		for j := k + 1; j < len(m.p.Tools); j++ {
			if h.twin[k] == h.twin[j] && holder[k] > holder[j] {
				holder[k], holder[j] = holder[j], holder[k]
				place[k], place[j] = place[j], place[k]
			}
		}
	}
	return place
}

// twins finds the tools that are equal: they suit the same plots with the same needs, are out on the same days, and no
// turn with them was told.
func (h *handover) twins() {
	m := h.s.m
	equal := func(a, b int) bool {
		if !slices.Equal(m.usable[a], m.usable[b]) {
			return false
		}
		for i := range m.plots {
			plot := &m.plots[i]
			if plot.class[a] != plot.class[b] {
				return false
			}
			for d := plot.first; d <= plot.last; d++ {
				if m.toldCost(plot, d, a) != 0 || m.toldCost(plot, d, b) != 0 {
					return false
				}
			}
		}
		return true
	}
	for k := range m.p.Tools {
		first := 0
		for first < k && !equal(first, k) {
			first++
		}
		h.twin = append(h.twin, first)
	}
}

// done counts tool-days: the more, the further is the state.
func (h *handover) done(key []byte) (n int) {
	for i := range h.s.m.plots {
		switch classes := h.s.m.plots[i].classes; key[i] {
		case untouched:
		case over:
			n += classes[len(classes)-1].need
		default:
			n += int(key[i]-1) % needs
		}
	}
	return n
}

// champions is how many states of a day the others are compared with.
const champions = 200

// undominated returns the states without those that another state makes needless.
//
// State a dominates state b if each plot has as many tool-days in a as in b, and a has fewer handovers by as many as
// tools are with another household. For whatever follows b can follow a: a turn that the plot does not need any more is
// left out, which makes no handover more, and each tool with another household makes at most one. That holds for plots
// for which all days of the window are equal; for others, the tool-days must be the same.
func (h *handover) undominated(states []state) []state {
	kept := states[:0]
	for _, b := range states {
		dominated := false
		for j := range kept[:min(len(kept), champions)] {
			if a := &kept[j]; a.hand <= b.hand && a.done >= b.done && h.dominates(a, &b) {
				dominated = true
				break
			}
		}
		if !dominated {
			kept = append(kept, b)
		}
	}
	return kept
}

func (h *handover) dominates(a, b *state) bool {
	m := h.s.m
	plots := len(m.plots)
	hand := a.hand
	for k := plots; k < plots+len(m.p.Tools); k++ {
		if was, is := b.key[k], a.key[k]; was != is && is != nobody && was != gone {
			hand++
		}
	}
	if hand > b.hand || a.key[len(a.key)-1] < b.key[len(b.key)-1] {
		return false
	}
	for i := range plots {
		was, is := b.key[i], a.key[i]
		if was == is {
			continue
		}
		if !h.plots[i].even || was == over {
			return false
		}
		if is == over {
			continue
		}
		sameClass := was == untouched && !h.plots[i].several || was != untouched && (is-1)/needs == (was-1)/needs
		if is == untouched || !sameClass || is < was {
			return false
		}
	}
	return true
}

// measure calculates what fits compares.
func (h *handover) measure() {
	m := h.s.m
	h.twins()
	h.load = make([]int, m.days+1)
	h.room = make([][]int, 1<<len(m.p.Tools))
	for set := range h.room {
		h.room[set] = make([]int, m.days+1)
		for day := range m.days {
			h.room[set][day+1] = h.room[set][day]
			for k, days := range m.usable {
				if set>>k&1 == 1 && days[day] {
					h.room[set][day+1]++
				}
			}
		}
	}
	h.must, h.tools = make([]bool, len(m.plots)), make([]int, len(m.plots))
	for i := range m.plots {
		h.must[i] = true
		for _, o := range h.t.b.options[i] {
			if !o.served && o.value == h.t.b.best[i] {
				h.must[i] = false
			}
		}
		for _, c := range h.t.d.allowed(i) {
			for _, k := range m.plots[i].classes[c].tools {
				h.tools[i] |= 1 << k
			}
		}
	}
}

// fits reports whether the tool-days after the day are enough for the plots that must be served: for each set of tools
// and each day, for those that can use no other tools and close until then. That is Hall's condition for some sets of
// plots; it shows most states that cannot be completed.
func (h *handover) fits(day int, key []byte) bool {
	m := h.s.m
	for set := 1; set < len(h.room); set++ {
		clear(h.load)
		last := 0
		for i := range m.plots {
			if !h.must[i] || key[i] == over || h.tools[i]&^set != 0 {
				continue
			}
			need := m.plots[i].classes[h.t.d.smallest(i)].need
			if code := int(key[i]); code != untouched {
				need = m.plots[i].classes[(code-1)/needs].need - (code-1)%needs
			}
			end := h.plots[i].end
			h.load[end+1] += need
			last = max(last, end+1)
		}
		sum := 0
		for d := day + 2; d <= last; d++ {
			if sum += h.load[d]; sum > h.room[set][d]-h.room[set][day+1] {
				return false
			}
		}
	}
	return true
}
