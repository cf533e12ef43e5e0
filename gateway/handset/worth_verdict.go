package handset

import (
	"fmt"
	"math"

	"rowbell/engine/simulate"
)

// Verdict says in two sentences what the bell did to a season: whether it
// helps, and by which figures. A difference that chance may have made (below
// twice its standard error, both taken as drawn apart) is called none.
func Verdict(r simulate.Result) string {
	a, b := r.Without, r.With
	first := beyondChance(a.PlotsFirstInTime, b.PlotsFirstInTime, a.Plots)
	all := beyondChance(a.PlotsAllInTime, b.PlotsAllInTime, a.Plots)
	figures := fmt.Sprintf("First pass in time on %d%% of plots by habit and %d%% with the bell; every pass on %d%% and %d%%.",
		share(a.PlotsFirstInTime, a.Plots).Percent, share(b.PlotsFirstInTime, b.Plots).Percent,
		share(a.PlotsAllInTime, a.Plots).Percent, share(b.PlotsAllInTime, b.Plots).Percent)
	switch {
	case first == 0 && all == 0:
		return "Here the bell does not help: what difference there is may be chance. " + figures
	case first < 0 && all <= 0 || first <= 0 && all < 0:
		return "Here the bell does not help: with it fewer are in time. " + figures
	case first < 0 || all < 0:
		return "Here the bell helps in one thing and harms in the other. " + figures
	case all == 0:
		return "Here the bell helps with the first pass, and beyond that it cannot be told. " + figures
	case first == 0:
		return "Here the bell helps with the later passes, not with the first. " + figures
	}
	return "Here the bell helps. " + figures
}

// beyondChance is 1 where with is more than without, -1 where it is less, of
// n each, and 0 where chance may have made the difference.
func beyondChance(without, with, n int) int {
	if n == 0 {
		return 0
	}
	p, q := float64(without)/float64(n), float64(with)/float64(n)
	margin := 2 * math.Sqrt((p*(1-p)+q*(1-q))/float64(n))
	switch {
	case q-p > margin:
		return 1
	case p-q > margin:
		return -1
	}
	return 0
}

// WhereNoHelp lists where the bell helps little or not at all, under the
// assumptions there are.
func WhereNoHelp() []string {
	return []string{
		"Growers who wait for a text and then do not act, as many of the sloppy and the lying: they weed later than their habit would have had them.",
		"Seasons in which habit meets the window anyway, as in a hot dry year: the first pass has little to gain from a text.",
		"A place whose weeds go faster than the service believes: it rings too late until it has learned, and habit may do better.",
	}
}
