package engine

// Constants of yield loss by weeds and of the risk of waiting.
const (
	BarnyardIHighPct, BarnyardIMediumPct, BarnyardILowPct = 4.70, 10.49, 15.51
	BarnyardAHighPct, BarnyardAMediumPct, BarnyardALowPct = 101.63, 104.92, 96.88

	WeedyRiceIHighPct, WeedyRiceIMediumPct, WeedyRiceILowPct = 1.04, 1.50, 3.57
	WeedyRiceAPct                                            = 100.0

	CriticalFromDAT, CriticalToDAT = 11, 57
	CriticalFromDAS, CriticalToDAS = 15, 58

	HeadStartDecay = 0.07
	RiceUpDays     = 4

	WeedsFewLow, WeedsSomeLow, WeedsManyLow, WeedsManyHigh = 1.0, 4.0, 16.0, 64.0
	WeedsUnknownLow, WeedsUnknownHigh                      = 2.0, 32.0
	WeedsLeftShare                                         = 0.25

	RiskMiddlePct, RiskHighPct = 5.0, 20.0
)

// riskFacts returns the facts of the constants in this file.
//
//revive:disable-next-line:function-length a table, one row for each constant
func riskFacts() []Use {
	const (
		richter = "Richter et al. 2019, Pesq. Agropec. Bras. 54, " +
			"http://www.scielo.br/scielo.php?script=sci_arttext&pid=S0100-204X2019000102508"
		john = "John, Ram & Pusparani 2024, Indian J. Weed Sci. 56:95-97, " +
			"https://www.isws.org.in/IJWSn/Article.aspx?Article_id=1737; others: the first 30 days (Ampong-Nyarko & " +
			"De Datta 1991), the first 8 weeks (IPB)"
		chauhan = "Chauhan & Johnson 2011, Field Crops Res. 121:226-231, aerobic rice, rows of 30 cm, wet season; " +
			"irrigated sown rice of the Sahel had 29-32 and 4-83 (Johnson et al. 2004, Field Crops Res. 85:31-42)"
		reckoned = "chosen here: each word stands for four times the weeds of the one before; no count was found of " +
			"what growers call few or many"
	)
	loss := []Fact{
		{"BarnyardIHighPct", BarnyardIHighPct, "% per plant/m2",
			"loss by the first barnyardgrass in a square metre, well-farmed field", richter, Read},
		{"BarnyardIMediumPct", BarnyardIMediumPct, "% per plant/m2",
			"loss by the first barnyardgrass in a square metre, medium field", richter, Read},
		{"BarnyardILowPct", BarnyardILowPct, "% per plant/m2",
			"loss by the first barnyardgrass in a square metre, poorly farmed field", richter, Read},
		{"BarnyardAHighPct", BarnyardAHighPct, "%",
			"loss at infinite density of barnyardgrass, well-farmed field; limited to 100", richter, Read},
		{"BarnyardAMediumPct", BarnyardAMediumPct, "%",
			"loss at infinite density of barnyardgrass, medium field; limited to 100", richter, Read},
		{"BarnyardALowPct", BarnyardALowPct, "%", "loss at infinite density of barnyardgrass, poorly farmed field",
			richter, Read},
		{"WeedyRiceIHighPct", WeedyRiceIHighPct, "% per plant/m2",
			"loss by the first weedy rice plant in a square metre, well-farmed field", richter, Read},
		{"WeedyRiceIMediumPct", WeedyRiceIMediumPct, "% per plant/m2",
			"loss by the first weedy rice plant in a square metre, medium field", richter, Read},
		{"WeedyRiceILowPct", WeedyRiceILowPct, "% per plant/m2",
			"loss by the first weedy rice plant in a square metre, poorly farmed field", richter, Read},
		{"WeedyRiceAPct", WeedyRiceAPct, "%", "loss at infinite density of weedy rice", richter, Read},
	}
	critical := []Fact{
		{"CriticalFromDAT", CriticalFromDAT, "d",
			"critical period of transplanted rice, from this day after transplanting", john, Read},
		{"CriticalToDAT", CriticalToDAT, "d", "critical period of transplanted rice, to this day after transplanting",
			john, Read},
		{"CriticalFromDAS", CriticalFromDAS, "d", "critical period of sown rice, from this day after sowing", chauhan,
			Read},
		{"CriticalToDAS", CriticalToDAS, "d", "critical period of sown rice, to this day after sowing", chauhan, Read},
	}
	risk := []Fact{
		{"HeadStartDecay", HeadStartDecay, "1/d",
			"how fast a weed's harm falls off with each day that rice was up before it",
			"calibrated here: 64 weeds a square metre that come up on day 57 after transplanting, when the critical " +
				"period for 95 % of the yield ends, then cost about those 5 % (2 to 6 by technology)", Judgement},
		{"RiceUpDays", RiceUpDays, "d", "days from sowing until rice is up", "chosen here: SeedlingUpHeat at 25 °C",
			Judgement},

		{"WeedsFewLow", WeedsFewLow, "plants/m2", "few weeds, from", reckoned, Judgement},
		{"WeedsSomeLow", WeedsSomeLow, "plants/m2", "few weeds, to; some weeds, from", reckoned, Judgement},
		{"WeedsManyLow", WeedsManyLow, "plants/m2", "some weeds, to; many weeds, from", reckoned, Judgement},
		{"WeedsManyHigh", WeedsManyHigh, "plants/m2", "many weeds, to", reckoned, Judgement},
		{"WeedsUnknownLow", WeedsUnknownLow, "plants/m2", "weeds that nobody has looked at, from",
			"chosen here: middle of few", Judgement},
		{"WeedsUnknownHigh", WeedsUnknownHigh, "plants/m2", "weeds that nobody has looked at, to",
			"chosen here: middle of many", Judgement},
		{"WeedsLeftShare", WeedsLeftShare, "1", "share of the ground on which what a pass left in the rows stands",
			"chosen here: a 15 cm tool in rows of 20 cm leaves a quarter unswept", Judgement},

		{"RiskMiddlePct", RiskMiddlePct, "%", "loss from which the risk of waiting is middle",
			"chosen here: the loss that critical periods accept, 95 % of the yield", Judgement},
		{"RiskHighPct", RiskHighPct, "%", "loss from which the risk of waiting is high",
			"chosen here: a fifth of the harvest", Judgement},
	}
	return []Use{
		{"risk of waiting", loss},
		{"risk of waiting, and until when pulling by hand pays", critical},
		{"risk of waiting", risk},
	}
}
