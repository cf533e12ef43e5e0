package engine

import "iter"

// ReadyRule is the rule that sets an end of the days in which seedlings are
// ready.
type ReadyRule uint8

const (
	RuleAge    ReadyRule = iota + 1 // days since sowing
	RuleLeaves                      // leaves on the seedling
)

func (r ReadyRule) String() string { return name(r, "", "age", "leaves") }

// Nursery is a bed of seedlings on a day. Ready are seedlings that are 15 to
// 20 days old and have 3 to 5 leaves (common practice). Each end of those days
// is set by the stricter of the two rules. In a cold place the age is over
// before the leaves are there: then the leaves alone count, and Apart is true.
type Nursery struct {
	Sown        Day
	AgeDays     int     // today; 0 before sowing
	LeavesToday float64 // by the model; 0 before the seedlings are up
	ReadyFrom   Day
	ReadyTo     Day
	FromRule    ReadyRule // what sets ReadyFrom
	ToRule      ReadyRule // what sets ReadyTo
	Apart       bool      // the two rules share no day
	TooOldFrom  Day       // past the published age for the variety, and past ReadyTo
}

// Seedlings works out a nursery sown on a day with a variety of so many days
// from seed to harvest (0 = 120). What the grower counts on the seedlings
// beats it.
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

// seedling walks a nursery day by day, from sowing, and tells the leaves of
// its seedlings. They are up after SeedlingUpHeat degree-days above 0 °C, and
// then a leaf comes every LeafHeat (Yoshida 1981, p. 21: before the panicle
// starts). Heat above the ceiling is not counted. Yoshida, p. 48, warns that no
// such sum holds over a wide range of temperatures; and on another base the
// same leaf is another sum.
func (w *Weather) seedling(sown Day) iter.Seq2[Day, float64] {
	return func(yield func(Day, float64) bool) {
		heat := -SeedlingUpHeat
		for d := sown; d <= sown+horizon && yield(d, max(0, heat/LeafHeat)); d++ {
			heat += w.riceHeat(d+1, 0)
		}
	}
}

// ready sets the days in which seedlings are ready by both rules, from the
// first day with enough leaves to the last with not too many.
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

// oldestSeedling is the greatest published age, in days, for a variety of so
// many days from seed to harvest.
func oldestSeedling(durationDays int) Day {
	switch {
	case durationDays <= ShortDurationDays:
		return OldestShortDays
	case durationDays <= MediumDurationDays:
		return OldestMediumDays
	}
	return OldestLongDays
}

// FirstFlood is the day on which the plot first gets its layer of FirstFloodCM:
// planted into ground that is soaked and barely covered, seedlings need a few
// days to hold, and must never be submerged.
func FirstFlood(planted Day) Day { return planted + FirstFloodDays }
