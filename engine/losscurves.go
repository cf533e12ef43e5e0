package engine

import "math"

// This file has published curves of the yield that is lost because of weeds. They describe scientific trials, not the
// plot of a grower, so the engine uses them only to rank plots and to show ranges.

// YieldLossPct returns the yield that weeds cost, in % of the weed-free yield. weedy and weedFree are the yields with
// and without weeds, in the same unit. The loss is never below 0; without a weed-free yield it is 0.
func YieldLossPct(weedy, weedFree float64) float64 {
	if !(weedFree > 0) {
		return 0
	}
	return max(0, 100*(1-weedy/weedFree))
}

// Hyperbola gives the yield loss YL in % by weed density (the hyperbola of Cousens):
//
//	YL = i D / (1 + i D / a)
//
// D is the density in weeds per m2. i (IPct) is the loss in % by one weed per m2 at low density, a (APct) the loss in %
// at infinite density.
type Hyperbola struct{ IPct, APct float64 }

// LossPct returns the loss, 0 to 100 %, for weeds that emerge with the crop. The limit of 100 % is needed because two
// published values of a, the loss at infinite density, are above 100 %.
func (h Hyperbola) LossPct(weedsPerM2 float64) float64 { return h.LateLossPct(weedsPerM2, 0) }

// LateLossPct returns the loss, 0 to 100 %, for weeds that emerge after the crop:
//
//	YL = i D / (e^(c T) + i D / a)
//
// D, i and a are those of Hyperbola. headStart is c T: T is the number of days from the emergence of the crop to that
// of the weeds, and c is a decay per day (Cousens et al. 1987, Weed Sci. 35:720; the formula is from memory).
func (h Hyperbola) LateLossPct(weedsPerM2, headStart float64) float64 {
	if !(weedsPerM2 > 0) {
		return 0
	}
	d := h.IPct * weedsPerM2
	return min(100, d/(math.Exp(headStart)+d/h.APct))
}

// Technology is the level of farming (sowing time, seed, fertilizer) in the trials of Richter et al. 2019. At a higher
// level each weed causes less loss of yield.
type Technology uint8

const (
	TechnologyHigh Technology = iota + 1
	TechnologyMedium
	TechnologyLow
)

// Barnyardgrass returns the hyperbola of Echinochloa crus-galli that emerges together with irrigated sown rice (Richter
// et al. 2019, Pesq. Agropec. Bras. 54). Transplanted rice emerges weeks before the weeds, so its loss is not higher.
func Barnyardgrass(t Technology) Hyperbola {
	switch t {
	case TechnologyHigh:
		return Hyperbola{BarnyardIHighPct, BarnyardAHighPct}
	case TechnologyLow:
		return Hyperbola{BarnyardILowPct, BarnyardALowPct}
	}
	return Hyperbola{BarnyardIMediumPct, BarnyardAMediumPct}
}

// WeedyRice returns the hyperbola of weedy rice among irrigated sown rice (Richter et al. 2019).
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
