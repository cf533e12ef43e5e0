package engine

import "math"

// CapitalRecovery returns the capital recovery factor: the constant payment per period that pays back 1 in n periods
// at the interest rate i per period (a fraction):
//
//	CRF = i (1+i)^n / ((1+i)^n - 1) = i / (1 - (1+i)^-n)
//
// Without interest the factor is 1/n. n need not be a whole number. The result is 0 unless n is above 0 and i above -1.
// Source: tables of engineering economics.
func CapitalRecovery(i, n float64) float64 {
	switch {
	case !(n > 0 && i > -1):
		return 0
	case 1+i == 1: // i is too small to change the result in a float64
		return 1 / n
	}
	return i / -math.Expm1(-n*math.Log1p(i))
}

// AnnualCost returns the yearly capital cost of a machine: a constant payment for the loss of value, and interest on
// the salvage value.
//
//	CRF(i, years) (price - salvage) + i salvage
//
// i is a fraction a year; repairs and work are not included; 0 if years is 0. Source: Iowa State University Extension
// A3-29, Estimating Farm Machinery Costs (the formula is from memory; its numbers were checked).
func AnnualCost(price, salvage, i, years float64) float64 {
	if !(years > 0) {
		return 0
	}
	return CapitalRecovery(i, years)*(price-salvage) + i*salvage
}

// FixedCosts are the yearly costs of a machine that loses the same value every year (straight-line depreciation).
// Depreciation and interest together are a little less than AnnualCost.
type FixedCosts struct {
	Depreciation float64 // loss of value, money a year
	Interest     float64 // interest on the mean of price and salvage value, money a year
	Shelter      float64 // shelter and insurance, money a year; a tool that is kept in the house has no such cost
}

// FixedCostsOf returns, for price P, salvage value S, L years and interest i a year, the depreciation (P-S)/L, the
// interest (P+S)/2 i, and 2 % of P for shelter; all are 0 if L is 0. Source: IASRI farm machinery course, lesson 14,
// http://ecoursesonline.iasri.res.in/mod/page/view.php?id=516
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

// AccumulatedRepairs returns the cost of all repairs of a simple implement so far, as a share of its price. used is the
// share of its life that is over, 0 to 1:
//
//	TAR = 0.301 X^1.3
//
// TAR is the repairs in percent of the price, and X is used in percent. At the end of the life TAR is 119.8 %, which is
// 12 % a year over ten years, the value of RepairShareYear. Source: IS 9164:1979 for ploughs, planters, harrows and
// cultivators, IASRI lesson 13,
// http://ecoursesonline.iasri.res.in/mod/page/view.php?id=515
func AccumulatedRepairs(used float64) float64 {
	if !(used > 0) {
		return 0
	}
	return RepairFactor * math.Pow(100*used, RepairPower) / 100
}

// BreakEven returns the least yearly use for which owning a machine costs no more than paying somebody else:
//
//	fixed a year / (custom rate - operating cost)
//
// The custom rate is what somebody else asks for one unit of work (a hectare weeded once, an acre, an hour), and the
// operating cost is what a unit costs with the own machine. The use is in units a year. BreakEven returns false if the
// operating cost is not below the custom rate.
// Source: IASRI lesson 21, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=522
func BreakEven(fixedAYear, customRate, operating float64) (float64, bool) {
	use := fixedAYear / (customRate - operating)
	if !(customRate > operating && use <= math.MaxFloat64) {
		return 0, false
	}
	return max(0, use), true
}

// Payback returns the number n of periods in which a constant saving pays back a price, at interest i per period:
// CRF(i, n) price = saving.
//
//	n = -ln(1 - i price/saving) / ln(1+i);  without interest price/saving
//
// Payback returns false if the saving is not larger than the interest.
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

// HireToAsk returns the daily price of hiring out a tool that pays for tool, interest and repairs in the given seasons.
// The owner's profit is the value that the tool still has then.
//
//	perDay = (CRF(j, seasons) + repairs/crops a year) price / days a season
//
// where j = (1+i)^(1/crops a year) - 1 is the interest rate per season. HireToAsk returns false if the price, the
// seasons or the days are 0.
func HireToAsk(p Prices, seasons, daysASeason float64) (perDay float64, ok bool) {
	p = p.filled()
	perDay = (CapitalRecovery(p.seasonRate(), seasons) + RepairShareYear/p.SeasonsYear) * p.Tool / daysASeason
	if !(p.Tool > 0 && seasons > 0 && daysASeason > 0 && perDay <= math.MaxFloat64) {
		return 0, false
	}
	return perDay, true
}
