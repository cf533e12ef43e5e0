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

func (t Technology) String() string { return name(t, "", "high", "medium", "low") }

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

// LeafAreaLoss returns the loss of yield as a share, 0 to 1. Lw is the weeds' share of the leaf area of crop and weeds
// together, 0 to 1, soon after emergence; q > 0 is a damage coefficient:
//
//	YL = q Lw / (1 + (q - 1) Lw)
//
// (Kropff & Spitters 1991, Weed Res. 31:97; the formula is from memory.)
func LeafAreaLoss(q, share float64) float64 { return q * share / (1 + (q-1)*share) }

// WeedFreeCurve gives the yield in % of the weed-free yield if the crop is kept free
// of weeds until time T and weeds grow from then on (Gompertz):
//
//	Y = A exp(-B exp(-K T))
//
// with A in %, T in days or degree-days, and K per day or per degree-day (Knezevic et al. 2002, Weed Sci. 50:773-786;
// the formula is from memory).
type WeedFreeCurve struct{ A, B, K float64 }

// YieldPct returns the yield in % if the crop is kept free of weeds until time t.
func (c WeedFreeCurve) YieldPct(t float64) float64 { return c.A * math.Exp(-c.B*math.Exp(-c.K*t)) }

// Time returns how long the crop must be kept free of weeds to reach the given yield. This time is the end of the
// critical period. ok is false if the curve never reaches that yield.
func (c WeedFreeCurve) Time(yieldPct float64) (t float64, ok bool) {
	t = math.Log(c.B/math.Log(c.A/yieldPct)) / c.K
	return t, finite(t)
}

// WeedyCurve gives the yield in % of the weed-free yield if weeds grow until time T and
// the crop is kept free of weeds from then on (logistic):
//
//	Y = 100 (1 / (exp(C (T - D)) + F) + (F - 1) / F)
//
// with the same source and units as WeedFreeCurve.
type WeedyCurve struct{ C, D, F float64 }

// YieldPct returns the yield in % if weeds grow until time t.
func (c WeedyCurve) YieldPct(t float64) float64 {
	return 100 * (1/(math.Exp(c.C*(t-c.D))+c.F) + (c.F-1)/c.F)
}

// Time returns how long weeds may grow before the yield falls below the given yield. This time is the start of the
// critical period. ok is false if the curve never reaches that yield.
func (c WeedyCurve) Time(yieldPct float64) (t float64, ok bool) {
	t = c.D + math.Log(1/(yieldPct/100-(c.F-1)/c.F)-c.F)/c.C
	return t, finite(t)
}

// finite reports whether x is neither NaN nor infinite.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

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
