package circle

import "slices"

// option is one way to decide a plot, with the least that it costs at the prices of the tool-days.
type option struct {
	class  int
	served bool
	value  int64
}

// bound is a lower bound of the costs of all rosters of a node. Whoever has a tool on a day pays the price of the
// tool-day, and a plot of a home also that of the hand. With any prices that are not negative, the sum over all plots
// of what each costs at least by itself, less the sum of the prices, is no more than the costs of any roster: a roster
// pays each price at most once (Lagrangian relaxation; Ahuja, Magnanti & Orlin 1993, Network Flows, chapter 16). The
// number of served plots is priced likewise: each is paid reward, and the total is reduced by reward for each of the
// target plots that must be served.
//
// The prices come from the potentials of the cheapest flow. They may be anything; the bound is valid for all.
type bound struct {
	value   int64
	price   [][]int64 // by tool and day
	hands   [][]int64 // by home and day: the price of a tool-day on a day with hands for one tool
	reward  int64
	options [][]option // of each plot, those that the node allows
	best    []int64    // of each plot: the least value of its options
}

// bound calculates the bound from the potentials of the network.
func (m *model) bound(d decision, reward int64, target int) bound {
	b := bound{reward: reward, value: reward * int64(target), price: make([][]int64, len(m.usable))}
	for k, days := range m.usable {
		b.price[k] = make([]int64, m.days)
		for day := range days {
			if arc := m.sink[k][day]; arc >= 0 {
				net := &m.net
				b.price[k][day] = max(0, net.potential[net.head[arc]]-net.potential[net.tail[arc]])
				b.value -= b.price[k][day]
			}
		}
	}
	for _, home := range m.homes {
		prices := make([]int64, m.days)
		for day, arc := range home.through {
			if arc >= 0 {
				net := &m.net
				prices[day] = max(0, net.potential[net.head[arc]]-net.potential[net.tail[arc]])
				b.value -= prices[day]
			}
		}
		b.hands = append(b.hands, prices)
	}
	b.options = make([][]option, len(m.plots))
	b.best = make([]int64, len(m.plots))
	for i := range m.plots {
		b.options[i] = m.options(d, i, &b)
		b.best[i] = infinite
		for _, o := range b.options[i] {
			b.best[i] = min(b.best[i], o.value)
		}
		if b.best[i] == infinite {
			b.value = infinite // the plot can neither be served nor not be served
			return b
		}
		b.value += b.best[i]
	}
	return b
}

// options returns what plot i costs at least by itself, for each way to decide it that the node allows.
func (m *model) options(d decision, i int, b *bound) []option {
	plot := &m.plots[i]
	c := d.choices[i]
	var options []option
	var within, late []int64
	for index, class := range plot.classes {
		if c.classes>>index&1 == 0 {
			continue
		}
		within, late = within[:0], late[:0]
		for day := plot.first; day <= plot.last; day++ {
			list := &within
			if day > plot.closes {
				list = &late
			}
			*list = m.unitCosts(*list, plot, class, day, m.hand(d, i, day), b)
		}
		slices.Sort(within)
		slices.Sort(late)
		base := m.w.late * int64(class.need) * int64(plot.missing)
		if c.status != unserved && len(within) >= class.need {
			value := base - b.reward - m.w.missed*int64(plot.missed)
			for _, cost := range within[:class.need] {
				value += cost
			}
			options = append(options, option{index, true, value})
		}
		if c.status != served {
			options = append(options, option{index, false, base + cheapest(within, late, class.need)})
		}
	}
	return options
}

// handPrice returns the price of a tool-day of the plot on the day in its home.
func (b *bound) handPrice(plot *plotModel, day int) int64 {
	if plot.home < 0 {
		return 0
	}
	return b.hands[plot.home][day]
}

// unitCosts appends the costs with prices of the cheapest tool-days of a class on a day, at most hand of them.
func (m *model) unitCosts(list []int64, plot *plotModel, class class, day, hand int, b *bound) []int64 {
	begin := len(list)
	cost := m.dayCost(plot, day) + b.handPrice(plot, day)
	for _, k := range class.tools {
		if m.usable[k][day] && hand > 0 {
			list = append(list, cost+m.toldCost(plot, day, k)+b.price[k][day])
		}
	}
	if len(list)-begin > hand {
		slices.Sort(list[begin:])
		list = list[:begin+hand]
	}
	return list
}

// cheapest returns the least sum of at most need costs, fewer than need of them from within. Both lists are sorted.
func cheapest(within, late []int64, need int) (sum int64) {
	w, l := 0, 0
	for w+l < need {
		mayWithin := w < len(within) && w < need-1 && within[w] < 0
		mayLate := l < len(late) && late[l] < 0
		switch {
		case mayWithin && (!mayLate || within[w] <= late[l]):
			sum += within[w]
			w++
		case mayLate:
			sum += late[l]
			l++
		default:
			return sum
		}
	}
	return sum
}
