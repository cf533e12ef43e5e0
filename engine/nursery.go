package engine

import "iter"

// ReadyRule says which rule set the first or the last day on which seedlings are ready.
type ReadyRule uint8

const (
	RuleAge    ReadyRule = iota + 1 // days since sowing
	RuleLeaves                      // leaves on the seedling
)

func (r ReadyRule) String() string { return name(r, "", "age", "leaves") }

// Nursery is the state of a nursery on a day. Seedlings are ready when they are 15 to 20 days old and have 3 to 5
// leaves (common practice, no source). If they have 3 leaves only after day 20, as in a cold place, the leaves alone
// decide and Apart is true.
type Nursery struct {
	Sown        Day
	AgeDays     int     // days from sowing to today; 0 before sowing
	LeavesToday float64 // number of leaves today by the model; 0 before the seedlings emerge
	ReadyFrom   Day
	ReadyTo     Day
	FromRule    ReadyRule // the rule that set ReadyFrom
	ToRule      ReadyRule // the rule that set ReadyTo
	Apart       bool      // no day meets both the rule of age and the rule of leaves
	TooOldFrom  Day       // first day after ReadyTo and after the highest published age for the variety
}

// Seedlings returns the state today of a nursery. The variety takes durationDays from sowing to harvest (0 =
// DefaultDurationDays). A leaf count of the grower is more reliable than this model.
func (w Weather) Seedlings(sown, today Day, durationDays int) Nursery {
	n := Nursery{Sown: sown, AgeDays: max(0, int(today-sown))}
	enough, notTooMany := sown+horizon, sown
	for d, leaves := range w.seedling(sown) {
		if d <= today {
			n.LeavesToday = leaves
		}
		if leaves >= ReadyLeavesFrom {
			enough = min(enough, d)
		}
		if leaves <= ReadyLeavesTo {
			notTooMany = d
		} else if d >= today {
			break
		}
	}
	n.ready(enough, notTooMany)
	n.TooOldFrom = max(n.ReadyTo, sown+oldestSeedling(or(durationDays, DefaultDurationDays))) + 1
	return n
}

// seedling yields each day from sowing on with the number of leaves of a seedling. Seedlings emerge after
// SeedlingUpHeat degree-days above 0 °C; each leaf takes LeafHeat more (Yoshida 1981, Fundamentals of Rice Crop
// Science, p. 21: before panicle initiation). P. 48 of this book warns that the degree-days of a leaf change at very
// different temperatures.
func (w *Weather) seedling(sown Day) iter.Seq2[Day, float64] {
	return func(yield func(Day, float64) bool) {
		heat := -SeedlingUpHeat
		for d := sown; d <= sown+horizon && yield(d, max(0, heat/LeafHeat)); d++ {
			heat += w.riceHeat(d+1, 0)
		}
	}
}

// ready sets the ready days. Seedlings have enough leaves from day enough on, and not too many until day notTooMany.
func (n *Nursery) ready(enough, notTooMany Day) {
	oldEnough, notTooOld := n.Sown+ReadyAgeFrom, n.Sown+ReadyAgeTo
	n.ReadyFrom, n.FromRule = oldEnough, RuleAge
	if enough > oldEnough {
		n.ReadyFrom, n.FromRule = enough, RuleLeaves
	}
	n.ReadyTo, n.ToRule = notTooOld, RuleAge
	if notTooMany < notTooOld {
		n.ReadyTo, n.ToRule = notTooMany, RuleLeaves
	}
	if n.Apart = n.ReadyFrom > n.ReadyTo; n.Apart {
		n.ReadyFrom, n.ReadyTo = enough, max(enough, notTooMany)
		n.FromRule, n.ToRule = RuleLeaves, RuleLeaves
	}
}

// oldestSeedling returns the highest published age in days of seedlings to plant, for a variety of this duration.
func oldestSeedling(durationDays int) Day {
	switch {
	case durationDays <= ShortDurationDays:
		return OldestShortDays
	case durationDays <= MediumDurationDays:
		return OldestMediumDays
	}
	return OldestLongDays
}

// FirstFlood returns the day of the first flood, FirstFloodCM deep: seedlings need FirstFloodDays days to grow roots.
// Water must never cover them.
func FirstFlood(planted Day) Day { return planted + FirstFloodDays }
