package weathercsv

import "rowbell/engine"

// Daily converts days in ascending order, as Parse returns them, to the type that a season contains.
func Daily(days []Day) engine.Daily {
	if len(days) == 0 {
		return engine.Daily{}
	}
	y := engine.Daily{From: days[0].On, Days: make([]engine.Measured, days[len(days)-1].On-days[0].On+1)}
	for i := range y.Days {
		y.Days[i] = engine.Unmeasured()
	}
	for _, d := range days {
		y.Days[d.On-y.From] = d.Measured
	}
	return y
}

// Changes counts the days of an imported file that had no stored weather before (added), changed the stored weather
// (replaced) or left it unchanged (same). before and after are the stored weather before and after the import.
func Changes(before, after engine.Daily, days []Day) (added, replaced, same int) {
	on := func(y engine.Daily, d engine.Day) engine.Measured {
		if m, ok := y.On(d); ok {
			return m
		}
		return engine.Unmeasured()
	}
	for _, d := range days {
		was, is := on(before, d.On), on(after, d.On)
		switch {
		case equal(was, is):
			same++
		case was.HasTemperature() || was.HasRain():
			replaced++
		default:
			added++
		}
	}
	return added, replaced, same
}

// equal reports whether two days have the same measurements. Two values that were not measured (NaN) are equal.
func equal(a, b engine.Measured) bool {
	return a.HasTemperature() == b.HasTemperature() && a.HasRain() == b.HasRain() &&
		(!a.HasTemperature() || a.MinC == b.MinC && a.MaxC == b.MaxC) && (!a.HasRain() || a.RainMM == b.RainMM)
}

// Gap is a range of consecutive days without a measurement.
type Gap struct{ From, To engine.Day } // From and To are part of the gap

// Gaps returns the gaps from the day from to the day to, both included: the days for which has returns false.
func Gaps(y engine.Daily, from, to engine.Day, has func(engine.Measured) bool) (gaps []Gap) {
	for d := from; d <= to; d++ {
		if m, ok := y.On(d); ok && has(m) {
			continue
		}
		if n := len(gaps); n > 0 && gaps[n-1].To == d-1 {
			gaps[n-1].To = d
			continue
		}
		gaps = append(gaps, Gap{d, d})
	}
	return gaps
}
