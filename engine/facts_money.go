package engine

// Constants for the costs of a tool. There is no default price: prices come from the place or the household. All prices
// of one computation are in the same currency.
const (
	DefaultToolYears   = 10.0
	DefaultSeasonsYear = 1.0
	DefaultSharers     = 5
	HireGraceHours     = 0.25

	RepairShareYear  = 0.12
	RepairFactor     = 0.301
	RepairPower      = 1.3
	ShelterShareYear = 0.02

	SmithPriceFromUSD, SmithPriceToUSD = 25.0, 40.0

	MinToolYears   = 0.5
	MinSeasonsYear = 0.2
)

// moneyFacts returns the facts of the constants in this file.
func moneyFacts() []Use {
	const (
		smith   = "common practice, no source: 25 to 40 US dollars from a village smith"
		repairs = "IS 9164:1979 for ploughs, planters, harrows and cultivators, TAR = 0.301 X^1.3 in % of price and " +
			"of life, IASRI lesson 13, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=515"
	)
	costs := []Fact{
		{"DefaultToolYears", DefaultToolYears, "years", "service of a tool if not told",
			"common practice, no source: about 10 years", CommonPractice},
		{"DefaultSeasonsYear", DefaultSeasonsYear, "crops", "crops a year if not told",
			"chosen here: the least, so that owning never looks cheaper than it is", Judgement},
		{"DefaultSharers", DefaultSharers, "households", "households that share a tool if not told",
			"chosen here: few enough to agree on days", Judgement},
		{"HireGraceHours", HireGraceHours, "h", "time past a whole day for which no other day of hire is reckoned",
			"chosen here: nobody asks a day for a quarter of an hour", Judgement},
		{"RepairShareYear", RepairShareYear, "1/year", "repairs of a tool a year, as a share of its price",
			"chosen here: in the band of 10-20 % a year for hand tools; IS 9164:1979 gives 119.8 % over the whole " +
				"life, 12 % a year over ten years", Judgement},
		{"RepairFactor", RepairFactor, "1", "factor of accumulated repairs", repairs, Read},
		{"RepairPower", RepairPower, "1", "power of accumulated repairs", repairs, Read},
		{"ShelterShareYear", ShelterShareYear, "1/year", "shelter and insurance of a machine, as a share of its price",
			"IASRI lesson 14, http://ecoursesonline.iasri.res.in/mod/page/view.php?id=516", Read},
		{"SmithPriceFromUSD", SmithPriceFromUSD, "US dollars", "what a tool costs, from; said, not reckoned with",
			smith, CommonPractice},
		{"SmithPriceToUSD", SmithPriceToUSD, "US dollars", "what a tool costs, to; said, not reckoned with", smith,
			CommonPractice},
	}
	limits := []Fact{
		{"MinToolYears", MinToolYears, "years", "shortest service of a tool accepted", slip, Judgement},
		{"MinSeasonsYear", MinSeasonsYear, "crops", "fewest crops a year accepted", slip, Judgement},
	}
	return []Use{{"what weeding costs, and what it pays", costs}, {"which entries are accepted", limits}}
}
