package engine

import "math"

// CapitalRecovery returns the capital recovery factor: the constant payment per period that pays back 1 in n periods
// at the interest rate i per period (a fraction):
//
//	CRF = i (1+i)^n / ((1+i)^n - 1) = i / (1 - (1+i)^-n)
//
// Without interest it is 1/n, and small rates lose no digits. n need not be whole. It is 0 if n is not above 0 or i
// not above -1. Source: tables of engineering economics.
func CapitalRecovery(i, n float64) float64 {
	switch {
	case !(n > 0 && i > -1):
		return 0
	case 1+i == 1: // so small a rate changes no digit
		return 1 / n
	}
	return i / -math.Expm1(-n*math.Log1p(i))
}

// AnnualCost returns the capital cost of owning a machine per year: constant
// payments for the value that is lost, and interest on the salvage value.
//
//	CRF(i, years) (price - salvage) + i salvage
//
// i is a fraction a year. Repairs and work are not included. It is 0 for no years. Source: Iowa State University
// Extension A3-29, Estimating Farm Machinery Costs (the form recalled, its numbers checked).
func AnnualCost(price, salvage, i, years float64) float64 {
	if !(years > 0) {
		return 0
	}
	return CapitalRecovery(i, years)*(price-salvage) + i*salvage
}

// FixedCosts are the yearly costs of a machine by straight-line depreciation, which
// gives a little less than AnnualCost.
type FixedCosts struct {
	Depreciation float64 // straight line, money a year
	Interest     float64 // on the mean of price and salvage value, money a year
	Shelter      float64 // shelter and insurance, money a year; a tool kept in the house has none
}

// FixedCostsOf returns (P-S)/L, (P+S)/2 i and 2 % of P for price P, salvage value S,
// L years and interest i as a fraction a year. All are 0 for no years. Source: IASRI
// farm machinery course, lesson 14, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=516
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

// AccumulatedRepairs returns the total cost of repairs of a simple implement, as a
// share of its price, after the share used of its life (0 to 1):
//
//	TAR = 0.301 X^1.3, both in percent
//
// At the end of its life that is 119.8 %: 12 % a year over ten years, which is RepairShareYear. Source: IS 9164:1979
// for ploughs, planters, harrows and cultivators, IASRI lesson 13,
// http://ecoursesonline.iasri.res.in/mod/page/view.php?id=515
func AccumulatedRepairs(used float64) float64 {
	if !(used > 0) {
		return 0
	}
	return RepairFactor * math.Pow(100*used, RepairPower) / 100
}

// BreakEven returns the use per year from which owning a machine costs no more than
// paying somebody for the same work:
//
//	fixed a year / (custom rate - operating cost)
//
// with rate and operating cost in money per unit of use (a hectare weeded once, an acre, an hour); the result is in
// that unit. It is false if owning never breaks even, because the work with the machine is no cheaper. Source: IASRI
// lesson 21, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=522
func BreakEven(fixedAYear, customRate, operating float64) (float64, bool) {
	use := fixedAYear / (customRate - operating)
	if !(customRate > operating && use <= math.MaxFloat64) {
		return 0, false
	}
	return max(0, use), true
}

// Payback returns the number of periods in which a saving per period pays back a price, at the interest rate i per
// period: the n for which CRF(i, n) price = saving.
//
//	n = -ln(1 - i price/saving) / ln(1+i);  without interest price/saving
//
// It is false if the saving never pays it back, because it is less than the interest.
func Payback(price, saving, i float64) (float64, bool) {
	n := price / saving
	if 1+i != 1 {
		n = -math.Log1p(-i*price/saving) / math.Log1p(i)
	}
	if !(price > 0 && i > -1 && n >= 0 && n <= math.MaxFloat64) {
		return 0, false
	}
	return n, true
}

// HireToAsk returns the hire per day, in money, at which a tool that is hired out
// for daysASeason pays back its price, interest and repairs in the given number of
// seasons. The owner's profit is what the tool is worth after them.
//
//	perDay = (CRF(j, seasons) + repairs/crops a year) price / days a season
//
// where j = (1+i)^(1/crops a year) - 1 is the interest rate per season. It is false without a price, seasons or days.
func HireToAsk(p Prices, seasons, daysASeason float64) (perDay float64, ok bool) {
	p = p.filled()
	perDay = (CapitalRecovery(p.seasonRate(), seasons) + RepairShareYear/p.SeasonsYear) * p.Tool / daysASeason
	if !(p.Tool > 0 && seasons > 0 && daysASeason > 0 && perDay <= math.MaxFloat64) {
		return 0, false
	}
	return perDay, true
}
