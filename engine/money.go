package engine

import "math"

// CapitalRecovery is the even payment a period that pays back 1 in n periods
// at the rate i a period (a fraction):
//
//	CRF = i (1+i)^n / ((1+i)^n - 1) = i / (1 - (1+i)^-n)
//
// Without interest it is 1/n, and it tends to 1/n smoothly: small rates lose
// no digits. n need not be whole. It is 0 where there is nothing to reckon:
// n not above 0, or i not above -1. Source: tables of engineering economics.
func CapitalRecovery(i, n float64) float64 {
	switch {
	case !(n > 0 && i > -1):
		return 0
	case 1+i == 1: // so small a rate changes no digit
		return 1 / n
	}
	return i / -math.Expm1(-n*math.Log1p(i))
}

// AnnualCost is what owning costs a year, wear and interest together: the part
// that is used up is paid back in even payments, the part that is left bears
// interest.
//
//	CRF(i, years) (price - salvage) + i salvage
//
// i is a fraction a year; repairs and work are not in it. 0 for no years.
// Source: Iowa State University Extension A3-29, Estimating Farm Machinery
// Costs (the form recalled, its numbers checked).
func AnnualCost(price, salvage, i, years float64) float64 {
	if !(years > 0) {
		return 0
	}
	return CapitalRecovery(i, years)*(price-salvage) + i*salvage
}

// FixedCosts are a machine's yearly costs by the older, simpler way; it comes
// out a little lower than AnnualCost.
type FixedCosts struct {
	Depreciation float64 // straight line, money a year
	Interest     float64 // on the mean of price and salvage, money a year
	Shelter      float64 // shelter and insurance, money a year; not for a tool kept in the house
}

// FixedCostsOf reckons them: (P-S)/L, (P+S)/2 i, and 2 % of P. i is a fraction
// a year; all are 0 for no years. Source: IASRI farm machinery course, lesson
// 14, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=516
func FixedCostsOf(price, salvage, i, years float64) FixedCosts {
	if !(years > 0) {
		return FixedCosts{}
	}
	return FixedCosts{
		Depreciation: (price - salvage) / years,
		Interest:     (price + salvage) / 2 * i,
		Shelter:      ShelterShareYear * price,
	}
}

// AccumulatedRepairs is the share of its price that a simple implement has cost
// in repairs when the share used of its life (0 to 1) is over:
//
//	TAR = 0.301 X^1.3, both in percent
//
// At the end of its life that is 119.8 %, or 12 % a year over ten years, which
// is RepairShareYear. Source: IS 9164:1979 for ploughs, planters, harrows and
// cultivators, IASRI lesson 13,
// http://ecoursesonline.iasri.res.in/mod/page/view.php?id=515
func AccumulatedRepairs(used float64) float64 {
	if !(used > 0) {
		return 0
	}
	return RepairFactor * math.Pow(100*used, RepairPower) / 100
}

// BreakEven is the use a year from which owning costs no more than paying for
// the same work:
//
//	fixed a year / (custom rate - operating cost)
//
// with rate and operating cost in money for one unit of use (a hectare weeded
// once, an acre, an hour); the answer is in that unit. It is false where
// owning never breaks even: the work is no cheaper with the machine. Source:
// IASRI lesson 21, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=522
func BreakEven(fixedAYear, customRate, operating float64) (float64, bool) {
	use := fixedAYear / (customRate - operating)
	if !(customRate > operating && use <= math.MaxFloat64) {
		return 0, false
	}
	return max(0, use), true
}

// Payback is how many periods a saving a period takes to pay a price back, at
// the rate i a period: the n for which CRF(i, n) price = saving.
//
//	n = -ln(1 - i price/saving) / ln(1+i);  without interest price/saving
//
// It is false where the saving never does, not even the interest.
func Payback(price, saving, i float64) (float64, bool) {
	n := price / saving
	if 1+i != 1 {
		n = -math.Log1p(-i*price/saving) / math.Log1p(i)
	}
	if !(price > 0 && saving > 0 && i > -1 && n >= 0 && n <= math.MaxFloat64) {
		return 0, false
	}
	return n, true
}

// HireToAsk is what to ask for a day's hire, in money, so that a tool hired out
// for so many days a season pays itself back in so many seasons: price with
// interest, and repairs. What the tool is still worth then is the gain.
//
//	perDay = (CRF(j, seasons) + repairs/crops a year) price / days a season
//
// where j = (1+i)^(1/crops a year) - 1 is the rate a season. It is false where
// it cannot be told: no price, no seasons, no days.
func HireToAsk(p Prices, seasons, daysASeason float64) (perDay float64, ok bool) {
	p = p.filled()
	perDay = (CapitalRecovery(p.seasonRate(), seasons) + RepairShareYear/p.SeasonsYear) * p.Tool / daysASeason
	if !(p.Tool > 0 && seasons > 0 && daysASeason > 0 && perDay <= math.MaxFloat64) {
		return 0, false
	}
	return perDay, true
}
