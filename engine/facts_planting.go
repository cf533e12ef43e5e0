package engine

// Constants of planting geometry, seed and nursery.
const (
	UsualRowLowCM, UsualRowHighCM = 20.0, 25.0

	DefaultGrainMG       = 25.0
	DefaultGermination   = 0.80
	DefaultEstablishment = 0.85

	SeedLowKG, SeedHighKG             = 20.0, 50.0
	SeedSingleLowKG, SeedSingleHighKG = 7.0, 20.0
	SeedPairLowKG                     = 12.0
	SeedFarFactor                     = 1.5

	NurseryShareLow, NurseryShareHigh = 0.04, 0.1

	LeafHeat                       = 100.0
	SeedlingUpHeat                 = 100.0
	ReadyLeavesFrom, ReadyLeavesTo = 3.0, 5.0
	ReadyAgeFrom, ReadyAgeTo       = 15, 20

	ShortDurationDays, MediumDurationDays             = 120, 140
	OldestShortDays, OldestMediumDays, OldestLongDays = 22, 30, 40

	FirstFloodDays = 3
	FirstFloodCM   = 5.0

	MaxSideM               = 5000
	MinGrainMG, MaxGrainMG = 10, 50
	MinSurvival            = 0.1
)

// plantingFacts returns the facts of the constants in this file.
//
//revive:disable-next-line:function-length a table, one row for each constant
func plantingFacts() []Use {
	const (
		tnau = "TNAU, expert system for paddy, cultivation practices, " +
			"http://www.agritech.tnau.ac.in/expert_system/paddy/cultivationpractices2.html"
		patna = "DRD Patna, http://www.rkmp.co.in/mr/content/seed-rate-treatment-and-spacing: 30-50 kg/ha for 2-3 " +
			"seedlings a hill"
		hybrid = "TNRRI, http://www.rkmp.co.in/content/transplanted-hybrid-rice: 20 kg/ha"
		inades = "FAO-INADES, Better farming series 21"
		rows   = "common practice, no source: 20 to 25 cm by tool width; wider is easier to weed, grows more " +
			"weeds and less grain"
		ready    = "common practice, no source: 15 to 20 days old, or 3 to 5 leaves"
		recalled = "recalled: short up to about 120 days, medium to about 140"
	)
	spacings := []Fact{
		{"UsualRowLowCM", UsualRowLowCM, "cm", "narrowest of the usual row spacings with a tool", rows, CommonPractice},
		{"UsualRowHighCM", UsualRowHighCM, "cm", "widest of the usual row spacings with a tool", rows, CommonPractice},
	}
	seed := []Fact{
		{"DefaultGrainMG", DefaultGrainMG, "mg", "weight of a grain, the grams of a thousand, if not told",
			"recalled: 20-30 g a thousand; that it belongs to the variety is read, Yoshida 1981, Fundamentals of " +
				"Rice Crop Science, p. 63", FromMemory},
		{"DefaultGermination", DefaultGermination, "1", "share of seed that comes up, if not told",
			"chosen here: usual of farm seed; to be tested before sowing", Judgement},
		{"DefaultEstablishment", DefaultEstablishment, "1",
			"share of seedlings that live to be planted and take, if not told", "chosen here", Judgement},

		{"SeedLowKG", SeedLowKG, "kg/ha", "lowest published seed rate of transplanted rice", hybrid, Read},
		{"SeedHighKG", SeedHighKG, "kg/ha", "highest published seed rate of transplanted rice", patna, Read},
		{"SeedSingleLowKG", SeedSingleLowKG, "kg/ha", "lowest published seed rate for single young seedlings",
			tnau + ": 7-8 kg/ha for one seedling a hill", Read},
		{"SeedSingleHighKG", SeedSingleHighKG, "kg/ha", "highest published seed rate for single seedlings",
			hybrid + ", one seedling a hill", Read},
		{"SeedPairLowKG", SeedPairLowKG, "kg/ha", "lowest published seed rate for two seedlings a hill",
			tnau + ": 12-15 kg/ha for two", Read},
		{"SeedFarFactor", SeedFarFactor, "1",
			"times outside the published rates from which a layout's seed is far from them",
			"chosen here: published rates hold the farmers' margin, which the reckoning does not", Judgement},
	}
	nursery := []Fact{
		{"NurseryShareLow", NurseryShareLow, "1", "least published nursery, to the field",
			inades + ", §43: 400 m2 a hectare for varieties of short duration", Read},
		{"NurseryShareHigh", NurseryShareHigh, "1", "largest published nursery, to the field", inades +
			", §14: for 6000 m2 a nursery of 600; a twentieth, 500 m2 a hectare, lies between (DRD Patna)", Read},
	}
	seedlings := []Fact{
		{"LeafHeat", LeafHeat, "°C d", "rice degree-days above 0 °C a leaf, before the panicle starts",
			"Yoshida 1981, Fundamentals of Rice Crop Science, p. 21: about 100 degree-days, " +
				"https://www.yumpu.com/en/document/view/55620626/yoshida-1981-fundamentals-of-rice-crop-science/31",
			Read},
		{"SeedlingUpHeat", SeedlingUpHeat, "°C d",
			"rice degree-days above 0 °C from sowing sprouted seed until seedlings are up",
			"calibrated on common practice, a leaf's worth: at 27 °C seedlings of 15 to 20 days then have 3.1 to 4.4 " +
				"leaves, which are to be 3 to 5", Judgement},
		{"ReadyLeavesFrom", ReadyLeavesFrom, "leaves", "leaves of the youngest seedlings to plant", ready,
			CommonPractice},
		{"ReadyLeavesTo", ReadyLeavesTo, "leaves", "leaves of the oldest seedlings to plant", ready, CommonPractice},
		{"ReadyAgeFrom", ReadyAgeFrom, "d", "age of the youngest seedlings to plant", ready, CommonPractice},
		{"ReadyAgeTo", ReadyAgeTo, "d", "age of the oldest seedlings to plant", ready, CommonPractice},

		{"ShortDurationDays", ShortDurationDays, "d", "longest duration, seed to harvest, of a short variety",
			recalled, FromMemory},
		{"MediumDurationDays", MediumDurationDays, "d", "longest duration, seed to harvest, of a medium variety",
			recalled, FromMemory},
		{"OldestShortDays", OldestShortDays, "d", "oldest seedlings of a short variety", tnau + ": 18-22 days", Read},
		{"OldestMediumDays", OldestMediumDays, "d", "oldest seedlings of a medium variety", tnau + ": 25-30 days",
			Read},
		{"OldestLongDays", OldestLongDays, "d", "oldest seedlings of a long variety", tnau + ": 35-40 days", Read},
	}
	flood := []Fact{
		{"FirstFloodDays", FirstFloodDays, "d", "days after transplanting until the first layer of water",
			"http://rkmp.co.in/content/water-management-6: 2 cm at transplanting, 5 cm three days after; about 5 cm " +
				"soon after planting is also common practice", Read},
		{"FirstFloodCM", FirstFloodCM, "cm", "first layer of water",
			"http://rkmp.co.in/content/water-management-6: 5 cm three days after transplanting", Read},
	}
	limits := []Fact{
		{"MaxSideM", MaxSideM, "m", "longest side of a field accepted", slip, Judgement},
		{"MinGrainMG", MinGrainMG, "mg", "lightest grain accepted", slip, Judgement},
		{"MaxGrainMG", MaxGrainMG, "mg", "heaviest grain accepted", slip, Judgement},
		{"MinSurvival", MinSurvival, "1", "least germination or establishment accepted", slip, Judgement},
	}
	return []Use{
		{"rows for a tool", spacings},
		{"seed for a field", seed},
		{"size of the nursery", nursery},
		{"days on which seedlings are ready", seedlings},
		{"first water after planting", flood},
		{"which entries are accepted", limits},
	}
}
