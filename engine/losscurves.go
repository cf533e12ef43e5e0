package engine

import "math"

// This file contains published curves of the yield that is lost because of weeds. The curves describe scientific
// trials, not a grower's plot. rowbell uses the curves only to rank plots and to show ranges.

// YieldLossPct returns the loss of a weedy crop in % of the weed-free yield. Both yields must have the same unit. The
// loss is 0 if the weed-free yield is 0 or less, or if it is not above the weedy yield.
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

// LossPct returns the loss, 0 to 100 %, for weeds that emerge together with the crop. The loss is limited to 100 %
// because two of the published values of a are higher.
func (h Hyperbola) LossPct(weedsPerM2 float64) float64 { return h.LateLossPct(weedsPerM2, 0) }

// LateLossPct returns the loss, 0 to 100 %, for weeds that emerge after the crop:
//
//	YL = i D / (e^(c T) + i D / a)
//
// where headStart is c T: the decay c per day times the number of days T from the emergence of the crop to the
// emergence of the weeds (Cousens et al. 1987, Weed Sci. 35:720; the formula is from memory). With headStart 0,
// LateLossPct equals LossPct.
func (h Hyperbola) LateLossPct(weedsPerM2, headStart float64) float64 {
	if !(weedsPerM2 > 0) {
		return 0
	}
	d := h.IPct * weedsPerM2
	return min(100, d/(math.Exp(headStart)+d/h.APct))
}

// Technology is the level of farming (sowing time, seed, fertilizer), as in the trials of Richter et al. 2019. At a
// higher level of farming, one weed causes less loss.
type Technology uint8

const (
	TechnologyHigh Technology = iota + 1
	TechnologyMedium
	TechnologyLow
)

// Barnyardgrass returns the hyperbola of Echinochloa crus-galli that emerges together with irrigated sown rice (Richter
// et al. 2019, Pesq. Agropec. Bras. 54). Transplanted rice emerges weeks before the weeds, so its loss is not higher
// than this hyperbola gives.
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

// CriticalPeriod is the range of days after planting in which the crop must be free of
// weeds for 95 % of the weed-free yield, both ends included.
type CriticalPeriod struct{ From, To int }

// CriticalPeriodOf returns the published period for a planting method: for transplanted rice from John, Ram & Pusparani
// 2024 (Indian J. Weed Sci. 56:95-97), for sown rice from Chauhan & Johnson 2011 (Field Crops Res. 121:226-231; rows of
// 30 cm, wet season, not flooded). Other publications give periods that differ by weeks; see riskFacts.
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
