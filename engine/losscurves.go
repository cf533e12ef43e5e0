package engine

import "math"

// The published curves of what weeds cost. They describe trials, not a plot:
// rowbell ranks by them and shows ranges, and promises nothing.

// YieldLossPct is the share of the weed-free yield, in %, that a weedy crop
// falls short of it; both in the same unit. 0 where the weed-free yield is not
// above 0 or the weedy crop did no worse.
func YieldLossPct(weedy, weedFree float64) float64 {
	if !(weedFree > 0) {
		return 0
	}
	return max(0, 100*(1-weedy/weedFree))
}

// Hyperbola is yield loss over weed density (Cousens):
//
//	YL = i D / (1 + i D / a)
//
// with D in plants a square metre; i is the loss in % of the first weed in a
// square metre, a the loss in % that many weeds tend to.
type Hyperbola struct{ IPct, APct float64 }

// LossPct is the loss, 0..100 %, for so many weeds a square metre that come up
// with the crop. Two of the published a exceed 100: it is held there.
func (h Hyperbola) LossPct(weedsPerM2 float64) float64 { return h.LateLossPct(weedsPerM2, 0) }

// LateLossPct is the loss, 0..100 %, for weeds that come up after the crop:
//
//	YL = i D / (e^(c T) + i D / a)
//
// with the crop's head start given as c T, a decay a day times days (Cousens
// et al. 1987, Weed Sci. 35:720; the algebra from memory). At 0 it is LossPct.
func (h Hyperbola) LateLossPct(weedsPerM2, headStart float64) float64 {
	if !(weedsPerM2 > 0) {
		return 0
	}
	d := h.IPct * weedsPerM2
	return min(100, d/(math.Exp(headStart)+d/h.APct))
}

// Technology is how well a field is farmed, as Richter et al. 2019 sort their
// trials: sowing time, seed, fertilizer. The better, the less a weed costs.
type Technology uint8

const (
	TechnologyHigh Technology = iota + 1
	TechnologyMedium
	TechnologyLow
)

func (t Technology) String() string { return name(t, "", "high", "medium", "low") }

// Barnyardgrass is the hyperbola of Echinochloa crus-galli that comes up with
// irrigated sown rice (Richter et al. 2019, Pesq. Agropec. Bras. 54).
// Transplanted rice has weeks of head start: there it is an upper bound.
func Barnyardgrass(t Technology) Hyperbola {
	switch t {
	case TechnologyHigh:
		return Hyperbola{BarnyardIHighPct, BarnyardAHighPct}
	case TechnologyLow:
		return Hyperbola{BarnyardILowPct, BarnyardALowPct}
	}
	return Hyperbola{BarnyardIMediumPct, BarnyardAMediumPct}
}

// WeedyRice is the hyperbola of weedy rice, from the same trials.
func WeedyRice(t Technology) Hyperbola {
	switch t {
	case TechnologyHigh:
		return Hyperbola{WeedyRiceIHighPct, WeedyRiceAPct}
	case TechnologyLow:
		return Hyperbola{WeedyRiceILowPct, WeedyRiceAPct}
	}
	return Hyperbola{WeedyRiceIMediumPct, WeedyRiceAPct}
}

// LeafAreaLoss is the loss, 0..1, by the weeds' share of all leaf area, 0..1,
// soon after the crop is up, with a damage coefficient q > 0:
//
//	YL = q Lw / (1 + (q - 1) Lw)
//
// (Kropff & Spitters 1991, Weed Res. 31:97; the algebra from memory.)
func LeafAreaLoss(q, share float64) float64 { return q * share / (1 + (q-1)*share) }

// WeedFreeCurve is yield in % of the weed-free crop when weeds are kept out
// until time T and then left, Gompertz:
//
//	Y = A exp(-B exp(-K T))
//
// A in %, T in days (or degree-days) and K by the same; from Knezevic et al.
// 2002, Weed Sci. 50:773-786, the algebra from memory.
type WeedFreeCurve struct{ A, B, K float64 }

// YieldPct is the yield when weeds are kept out until time t.
func (c WeedFreeCurve) YieldPct(t float64) float64 { return c.A * math.Exp(-c.B*math.Exp(-c.K*t)) }

// Time is how long weeds must be kept out for a yield: the end of the critical
// period. Not ok for a yield that the curve never has.
func (c WeedFreeCurve) Time(yieldPct float64) (t float64, ok bool) {
	t = math.Log(c.B/math.Log(c.A/yieldPct)) / c.K
	return t, finite(t)
}

// WeedyCurve is yield in % of the weed-free crop when weeds are left until
// time T and then kept out, logistic:
//
//	Y = 100 (1 / (exp(C (T - D)) + F) + (F - 1) / F)
//
// with the same source and units as WeedFreeCurve.
type WeedyCurve struct{ C, D, F float64 }

// YieldPct is the yield when weeds are left until time t.
func (c WeedyCurve) YieldPct(t float64) float64 {
	return 100 * (1/(math.Exp(c.C*(t-c.D))+c.F) + (c.F-1)/c.F)
}

// Time is how long weeds may be left for a yield: the begin of the critical
// period. Not ok for a yield that the curve never has.
func (c WeedyCurve) Time(yieldPct float64) (t float64, ok bool) {
	t = c.D + math.Log(1/(yieldPct/100-(c.F-1)/c.F)-c.F)/c.C
	return t, finite(t)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// CriticalPeriod is the days after planting in which weeds must be kept out
// for 95 % of the weed-free yield.
type CriticalPeriod struct{ From, To int }

// CriticalPeriodOf is the published period for rice planted so: transplanted
// after John, Ram & Pusparani 2024 (Indian J. Weed Sci. 56:95-97), sown after
// Chauhan & Johnson 2011 (Field Crops Res. 121:226-231; rows of 30 cm, wet
// season, not flooded). Others differ by weeks: see the table of facts.
func CriticalPeriodOf(m Method) CriticalPeriod {
	if m == Transplanted {
		return CriticalPeriod{CriticalFromDAT, CriticalToDAT}
	}
	return CriticalPeriod{CriticalFromDAS, CriticalToDAS}
}

// Days is how long the period is, from its first day to its last.
func (c CriticalPeriod) Days() int { return c.To - c.From }

// Contains reports whether a day after planting lies in the period.
func (c CriticalPeriod) Contains(afterPlanting int) bool {
	return c.From <= afterPlanting && afterPlanting <= c.To
}
