package engine

import "math"

// Published curves of the yield that is lost because of weeds. They describe scientific trials, not the plot of a
// grower, and serve only to rank plots and to show ranges.

// YieldLossPct returns the loss of a weedy crop in % of the weed-free yield, in the same unit. The loss is never below
// 0, and 0 without a weed-free yield.
func YieldLossPct(weedy, weedFree float64) float64 {
	if !(weedFree > 0) {
		return 0
	}
	return max(0, 100*(1-weedy/weedFree))
}

// Hyperbola gives yield loss by weed density (Cousens):
//
//	YL = i D / (1 + i D / a)
//
// with D in plants per m2, the loss i in % per plant per m2 at low density, and the loss a in % at infinite density.
type Hyperbola struct{ IPct, APct float64 }

// LossPct returns the loss, 0 to 100 %, for weeds that emerge with the crop. Two published values of a are above 100 %.
func (h Hyperbola) LossPct(weedsPerM2 float64) float64 { return h.LateLossPct(weedsPerM2, 0) }

// LateLossPct returns the loss, 0 to 100 %, for weeds that emerge after the crop:
//
//	YL = i D / (e^(c T) + i D / a)
//
// where headStart is c T: the decay c a day times the days T from the emergence of the crop to that of the weeds
// (Cousens et al. 1987, Weed Sci. 35:720; the formula is from memory).
func (h Hyperbola) LateLossPct(weedsPerM2, headStart float64) float64 {
	if !(weedsPerM2 > 0) {
		return 0
	}
	d := h.IPct * weedsPerM2
	return min(100, d/(math.Exp(headStart)+d/h.APct))
}

// Technology is the level of farming (sowing time, seed, fertilizer) in the trials of Richter et al. 2019. At a higher
// level one weed causes less loss.
type Technology uint8

const (
	TechnologyHigh Technology = iota + 1
	TechnologyMedium
	TechnologyLow
)

// Barnyardgrass returns the hyperbola of Echinochloa crus-galli that emerges with irrigated sown rice (Richter et al.
// 2019, Pesq. Agropec. Bras. 54). Transplanted rice emerges weeks earlier, so its loss is not higher.
func Barnyardgrass(t Technology) Hyperbola {
	switch t {
	case TechnologyHigh:
		return Hyperbola{BarnyardIHighPct, BarnyardAHighPct}
	case TechnologyLow:
		return Hyperbola{BarnyardILowPct, BarnyardALowPct}
	}
	return Hyperbola{BarnyardIMediumPct, BarnyardAMediumPct}
}

// WeedyRice returns the hyperbola of weedy rice, from the same trials as Barnyardgrass.
func WeedyRice(t Technology) Hyperbola {
	switch t {
	case TechnologyHigh:
		return Hyperbola{WeedyRiceIHighPct, WeedyRiceAPct}
	case TechnologyLow:
		return Hyperbola{WeedyRiceILowPct, WeedyRiceAPct}
	}
	return Hyperbola{WeedyRiceIMediumPct, WeedyRiceAPct}
}

// CriticalPeriod is the range of days after planting, both included, in which the crop must be free of weeds for 95 %
// of the weed-free yield.
type CriticalPeriod struct{ From, To int }

// CriticalPeriodOf returns the published period: for transplanted rice from John, Ram & Pusparani 2024 (Indian J. Weed
// Sci. 56:95-97), for sown rice from Chauhan & Johnson 2011 (Field Crops Res. 121:226-231; rows of 30 cm, wet season,
// not flooded). Other publications differ by weeks; see riskFacts.
func CriticalPeriodOf(m Method) CriticalPeriod {
	if m == Transplanted {
		return CriticalPeriod{CriticalFromDAT, CriticalToDAT}
	}
	return CriticalPeriod{CriticalFromDAS, CriticalToDAS}
}

// Days returns To - From.
func (c CriticalPeriod) Days() int { return c.To - c.From }

// Contains reports whether a number of days after planting is in the period.
func (c CriticalPeriod) Contains(afterPlanting int) bool {
	return c.From <= afterPlanting && afterPlanting <= c.To
}
