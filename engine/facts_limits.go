package engine

// Limits of what a grower or an operator may enter. They reject typing mistakes (52 instead of 25, metres instead of
// centimetres), but accept unusual fields.
const (
	// Limits of a plot.
	MinSpacingCM, MaxSpacingCM             = 5, 100
	MaxAreaM2                              = 1_000_000
	MinSeedlingAgeDays, MaxSeedlingAgeDays = 5, 60
	MaxSeedlingsPerHill                    = 12
	MinDurationDays, MaxDurationDays       = 75, 220
	MaxPuddledBeforeDays                   = 30
	MinYear, MaxYear                       = 1900, 2200
	MaxInflowLS                            = 500

	// Limits of a tool's working width.
	MinToolCM, MaxToolCM = 5, 60

	// Limits of a household's people and hours, and of prices.
	MaxPeople      = 99
	MaxHoursADay   = 16
	MaxPrice       = 1_000_000_000
	MaxCurrency    = 4 // characters in the name of a currency
	MaxToolYears   = 50
	MaxSeasonsYear = 4
	MaxInterest    = 5.0 // interest a year, as a fraction: 5.0 is 500 %

	// Limits of temperatures and rain.
	ColdestC       = -60
	HottestC       = 60
	MaxDayRainMM   = 2000
	MaxMonthRainMM = 10_000

	// Weed rate that a place may learn: how fast its weeds grow, as a multiple of the rate in the weed clock.
	MinWeedRate, MaxWeedRate = 0.7, 1.4
)

// limitFacts holds the facts of the constants in this file.
var limitFacts = []Use{
	{"which entries are accepted", acceptedFacts},
	{"what a place learns of its weeds", rateFacts},
}

var acceptedFacts = []Fact{
	{"ColdestC", ColdestC, "°C", "lowest monthly minimum accepted", slip, Judgement},
	{"HottestC", HottestC, "°C", "highest monthly maximum accepted", slip, Judgement},
	{"MaxDayRainMM", MaxDayRainMM, "mm", "most rain of one day accepted",
		"chosen here: above the record, 1825 mm in 24 hours at Foc-Foc, Reunion, in January 1966 " +
			"(World Meteorological Organization, archive of weather and climate extremes; from memory)", Judgement},
	{"MaxMonthRainMM", MaxMonthRainMM, "mm", "wettest month accepted", slip, Judgement},
	{"MinSpacingCM", MinSpacingCM, "cm", "closest spacing accepted", slip, Judgement},
	{"MaxSpacingCM", MaxSpacingCM, "cm", "widest spacing accepted", slip, Judgement},
	{"MaxAreaM2", MaxAreaM2, "m2", "largest plot accepted", slip, Judgement},
	{"MinSeedlingAgeDays", MinSeedlingAgeDays, "d", "youngest seedlings accepted", slip, Judgement},
	{"MaxSeedlingsPerHill", MaxSeedlingsPerHill, "seedlings", "most seedlings a hill accepted", slip, Judgement},
	{"MaxSeedlingAgeDays", MaxSeedlingAgeDays, "d", "oldest seedlings accepted", slip, Judgement},
	{"MinDurationDays", MinDurationDays, "d", "shortest variety accepted", slip, Judgement},
	{"MaxDurationDays", MaxDurationDays, "d", "longest variety accepted", slip, Judgement},
	{"MaxPuddledBeforeDays", MaxPuddledBeforeDays, "d", "longest time from puddling to planting accepted",
		slip, Judgement},
	{"MinYear", MinYear, "year", "first year of planting accepted", slip, Judgement},
	{"MaxYear", MaxYear, "year", "last year of planting accepted", slip, Judgement},
	{"MinToolCM", MinToolCM, "cm", "narrowest tool accepted", slip, Judgement},
	{"MaxInflowLS", MaxInflowLS, "l/s", "strongest inlet of a plot accepted", slip, Judgement},
	{"MaxPeople", MaxPeople, "people", "most people, tools or households accepted", slip, Judgement},
	{"MaxHoursADay", MaxHoursADay, "h", "longest day of weeding accepted", slip, Judgement},
	{"MaxPrice", MaxPrice, "money", "highest price accepted, in any currency", slip, Judgement},
	{"MaxCurrency", MaxCurrency, "characters", "longest name of a currency: it must fit a phone", slip, Judgement},
	{"MaxToolYears", MaxToolYears, "years", "longest service of a tool accepted", slip, Judgement},
	{"MaxSeasonsYear", MaxSeasonsYear, "crops", "most crops a year accepted", slip, Judgement},
	{"MaxInterest", MaxInterest, "1/year", "dearest borrowed money accepted", slip, Judgement},
	{"MaxToolCM", MaxToolCM, "cm", "widest tool accepted", slip, Judgement},
}

var rateFacts = []Fact{
	{"MinWeedRate", MinWeedRate, "1", "slowest weeds that a place may learn of, to the table's clock",
		"chosen here: the band of grass-weed phyllochrons, 34-65 °C d around 45, is 0.7 to 1.3 as fast", Judgement},
	{"MaxWeedRate", MaxWeedRate, "1", "fastest weeds that a place may learn of, to the table's clock",
		"chosen here: as MinWeedRate, the other way", Judgement},
}
