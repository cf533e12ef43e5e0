package engine

// Constants of radiation, evapotranspiration, rain, soil loss and the water that a pass needs.
const (
	// Constants in the formulas for the radiation of the sun and for evapotranspiration.
	SolarConstant     = 0.0820
	SunDistanceSwing  = 0.033
	SunTilt           = 0.409
	SunPhase          = 1.39
	HargreavesFactor  = 0.0023
	HargreavesOffsetC = 17.8
	EvaporatedMMPerMJ = 0.408

	// How crop and soil change the use of water: crop coefficients (Kc), and seepage and percolation in mm a day.
	KcInitial, KcMiddle, KcEnd             = 1.05, 1.20, 0.90
	RipeningDays                           = 30
	LossHeavyMM, LossMediumMM, LossLightMM = 3.0, 6.0, 8.0

	// Constants in the formulas for the effective rain of a month, the part of the rain that the crop can use.
	RainHighFromMM                = 75.0
	RainHighShare, RainHighLessMM = 0.8, 25.0
	RainLowShare, RainLowLessMM   = 0.6, 10.0

	// The layer of water on the plot: depths that growers and sources speak of, and for how long they are used.
	BundMM                         = 100.0
	KeptDepthMM, OnOffDepthMM      = 50.0, 20.0
	FingersMM, HandMM              = 30.0, 80.0
	WeedingFromMM, WeedingMostMM   = 30.0, 50.0
	WeedingDepthMM, WeedingLeastMM = 40.0, 20.0
	DepthRoundMM                   = 5.0
	HeavyRainMM                    = 64.5
	HeavyHoldsDays                 = 5
	WaterSeenDays                  = 14
	WaterAheadDays                 = 30
	MaxInflowHours                 = 240

	// Water in the soil.
	SoilHoldsMM, DryLostMM = 60.0, 20.0

	// etDays is the number of days in a block for which evapotranspiration is computed only once.
	etDays = 5

	// Units of angle, time and volume. They are constants because a test allows no bare numbers in functions.
	poleDeg       = 90
	sunYearDays   = 365
	hoursOfDay    = 24
	minutesOfDay  = 1440
	secondsAnHour = 3600
	litresAM3     = 1000
)

// waterFacts returns the facts of the constants in this file.
//
//revive:disable-next-line:function-length a table, one row for each constant
func waterFacts() []Use {
	const (
		fao56    = "Allen et al. 1998, FAO Irrigation and Drainage Paper 56"
		kc       = fao56 + ", Table 12: rice 1.05 / 1.20 / 0.90-0.60, http://www.fao.org/docrep/X0490E/x0490e0b.htm"
		sunDay   = "recalled from " + fao56 + ", equations 23 and 24; with them its Example 8 and table 2.6 come out"
		evaporee = "recalled from " + fao56 + ", equation 52"
		sriLanka = "Department of Agriculture, Sri Lanka, https://doa.gov.lk/rrdi_watermanagement_seepageloss/"
		manual3  = "recalled from Brouwer & Heibloem 1986, FAO Irrigation Water Management Training Manual 3"
		chiba    = "Chiba prefecture, rice field note 2022 (sui-2022-04), after NARO's organic manual: 3-5 cm, " +
			"for a machine weeder"
		unit = "a unit, by definition"
	)
	sun := []Fact{
		{"SolarConstant", SolarConstant, "MJ/(m2 min)", "radiation of the sun above the air",
			fao56 + ", equation 21, https://www.fao.org/docrep/x0490e/x0490e07.htm", AsQuoted},
		{"SunDistanceSwing", SunDistanceSwing, "1", "share by which the nearer and farther sun changes its radiation",
			sunDay, FromMemory},
		{"SunTilt", SunTilt, "rad", "largest declination of the sun", sunDay, FromMemory},
		{"SunPhase", SunPhase, "rad", "the year's angle at which the sun crosses the equator northward", sunDay,
			FromMemory},
		{"HargreavesFactor", HargreavesFactor, "1/°C^1.5", "factor of evapotranspiration from temperature", evaporee,
			FromMemory},
		{"HargreavesOffsetC", HargreavesOffsetC, "°C",
			"added to the mean temperature in evapotranspiration from temperature", evaporee, FromMemory},
		{"EvaporatedMMPerMJ", EvaporatedMMPerMJ, "mm m2/MJ", "water that a MJ evaporates from a square metre",
			fao56 + ": 1/2.45, https://www.fao.org/docrep/x0490e/x0490e07.htm", AsQuoted},
		{"etDays", etDays, "d", "days for which evapotranspiration is worked out at once",
			fao56 + ": the temperature formula is for means of five days or more (from memory)", FromMemory},
	}
	crop := []Fact{
		{"KcInitial", KcInitial, "1", "crop coefficient of rice from planting", kc, AsQuoted},
		{"KcMiddle", KcMiddle, "1", "crop coefficient of rice once it covers the ground", kc, AsQuoted},
		{"KcEnd", KcEnd, "1", "crop coefficient of ripe rice, still ponded", kc, AsQuoted},
		{"RipeningDays", RipeningDays, "d", "days before harvest over which rice ripens and its crop coefficient falls",
			"IRRI, Growth stages of the rice plant, " +
				"http://www.knowledgebank.irri.org/ericeproduction/0.2._Growth_stages_of_the_rice_plant.htm", Read},
		{"LossHeavyMM", LossHeavyMM, "mm/d", "seepage and percolation of puddled heavy soil",
			sriLanka + ": poorly drained 3", Read},
		{"LossMediumMM", LossMediumMM, "mm/d", "seepage and percolation of puddled medium soil",
			sriLanka + ": well drained 6", Read},
		{"LossLightMM", LossLightMM, "mm/d", "seepage and percolation of puddled light soil", manual3 + ": 8 for sand",
			FromMemory},
	}
	rain := []Fact{
		{"RainHighFromMM", RainHighFromMM, "mm/month", "rain of a month above which more of it counts",
			manual3 + ", section 4.2", FromMemory},
		{"RainHighShare", RainHighShare, "1", "share of a wet month's rain that counts",
			manual3 + ", section 4.2: 0.8 P - 25", FromMemory},
		{"RainHighLessMM", RainHighLessMM, "mm/month", "taken off that share of a wet month",
			manual3 + ", section 4.2: 0.8 P - 25", FromMemory},
		{"RainLowShare", RainLowShare, "1", "share of a dry month's rain that counts",
			manual3 + ", section 4.2: 0.6 P - 10", FromMemory},
		{"RainLowLessMM", RainLowLessMM, "mm/month", "taken off that share of a dry month",
			manual3 + ", section 4.2: 0.6 P - 10", FromMemory},
	}
	layer := []Fact{
		{"BundMM", BundMM, "mm", "deepest water that the bund holds",
			"chosen here: a low bund of earth, a hand's width and a little", Judgement},
		{"KeptDepthMM", KeptDepthMM, "mm", "water that stands where the grower says that it always does",
			"common practice, no source: about 5 cm soon after planting", CommonPractice},
		{"OnOffDepthMM", OnOffDepthMM, "mm", "water that stands where the grower says that it comes and goes",
			"chosen here: between mud and a kept flood, nearer to mud", Judgement},
		{"FingersMM", FingersMM, "mm", "water that a grower calls two fingers deep",
			"chosen here: two fingers side by side are 3 to 4 cm, the lower end", Judgement},
		{"HandMM", HandMM, "mm", "water that a grower calls a hand's width deep",
			"chosen here: a hand without its thumb is 7 to 9 cm", Judgement},
		{"WeedingFromMM", WeedingFromMM, "mm", "least water that is advised for a pass", chiba, Read},
		{"WeedingMostMM", WeedingMostMM, "mm", "greatest depth of water that is advised for a pass", chiba, Read},
		{"WeedingDepthMM", WeedingDepthMM, "mm", "depth to which water is let in or out for a pass",
			"the middle of WeedingFromMM and WeedingMostMM", Computed},
		{"WeedingLeastMM", WeedingLeastMM, "mm", "least water for a pass",
			irriMechanical + `: "With 2-3 cm of water in the field"`, Read},
		{"DepthRoundMM", DepthRoundMM, "mm", "by this much a depth may miss the advised range",
			"half of a centimetre: depths are told in whole centimetres", Computed},
		{"HeavyRainMM", HeavyRainMM, "mm/d", "rain of a day that is heavy: fields around are full, too",
			"India Meteorological Department: heavy is 64.5 to 115.5 mm in 24 hours (news reports quote it)", AsQuoted},
		{"HeavyHoldsDays", HeavyHoldsDays, "d", "days after heavy rain for which no water can be let out",
			"chosen here: bunds and drains around the plot empty within days", Judgement},
		{"SoilHoldsMM", SoilHoldsMM, "mm", "most water that puddled soil loses before the balance stops",
			"chosen here: a puddled layer of 20 cm that loses three tenths of its volume. Wide cracks may take more: " +
				"water let in passes through them (Islam et al. 2003, Pak. J. Biol. Sci. 6:1600-1607, abstract)",
			Judgement},
		{"DryLostMM", DryLostMM, "mm", "water that the soil has lost at least if it is dry, at most if it is mud",
			"chosen here: a puddled layer of 20 cm that loses a tenth of its volume is no longer soft", Judgement},
		{"WaterSeenDays", WaterSeenDays, "d", "days for which water that a grower saw says something",
			"chosen here: by then a hand's width is gone on most ground, and who keeps a flood has let in more",
			Judgement},
		{"WaterAheadDays", WaterAheadDays, "d", "days looked ahead for water running short",
			"chosen here: from one pass past the next", Judgement},
		{"MaxInflowHours", MaxInflowHours, "h", "longest time to let water in that is called a time",
			"chosen here: an inlet that needs more than ten days is too weak for it", Judgement},
	}
	units := []Fact{
		{"poleDeg", poleDeg, "°", "latitude of a pole", unit, Computed},
		{"sunYearDays", sunYearDays, "d", "days of the sun's round in its formulas",
			fao56 + ", equations 23 and 24 (from memory)", FromMemory},
		{"hoursOfDay", hoursOfDay, "h", "hours in a day", unit, Computed},
		{"minutesOfDay", minutesOfDay, "min", "minutes in a day", unit, Computed},
		{"secondsAnHour", secondsAnHour, "s", "seconds in an hour", unit, Computed},
		{"litresAM3", litresAM3, "l", "litres in a cubic metre", unit, Computed},
	}
	return []Use{
		{"water that evaporates", sun},
		{"water that crop and soil take", crop},
		{"rain that counts", rain},
		{"depth of water, and what to let in", layer},
		{"units of the water balance", units},
	}
}
