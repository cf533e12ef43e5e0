package engine

// Constants of work, people and pace.
const (
	HandHoursPerHa                = 200.0
	HandRoundsLow, HandRoundsHigh = 2.0, 3.0

	RestShareFew, RestShareSome, RestShareMany = 0.25, 0.5, 1.0

	DefaultPeople    = 1
	DefaultHoursADay = 6.0
	ToolDayHours     = 10.0
	MostHands        = 20
	MostTools        = 5

	PaceNoise  = 0.4
	PaceSpread = 0.3
	PaceLimit  = 4.0
	EightInTen = 1.2816
)

// workFacts returns the facts of the constants in this file.
func workFacts() []Use {
	const (
		rest = "chosen here: weeds stand on all of the strips, or on half or a quarter of them; with a tool of 15 cm " +
			"in rows of 20 cm, few to some add a fifth to two fifths to the tool's own work"
		paceWhen = "; with both, k = 1.8 passes weigh as much as the model"
	)
	hours := []Fact{
		{"HandHoursPerHa", HandHoursPerHa, "h/ha", "weeding a hectare once by hand, one person",
			"computed: 1/0.005, from the 0.005 ha/h that a cultivator comparison in Sri Lanka quotes for weeding by " +
				"hand, https://discovery.researcher.life/topic/highest-field-capacity/6752918?page=2", Computed},
		{"HandRoundsLow", HandRoundsLow, "weedings", "fewest weedings by hand in a season without a tool",
			"common practice, no source: two where water is kept", CommonPractice},
		{"HandRoundsHigh", HandRoundsHigh, "weedings", "most weedings by hand in a season without a tool",
			irriManual + " names the days of three; at Ambohibary, Madagascar, 70 % of growers weed three times or " +
				"more (Rodenburg et al., doi 10.1017/s001447971700059x, as quoted)", Read},
		{"RestShareFew", RestShareFew, "1", "share of the ground not swept by the tool that has to be pulled by hand " +
			"after a pass that leaves few weeds", rest, Judgement},
		{"RestShareSome", RestShareSome, "1", "the same after a pass that leaves some weeds, or not told", rest,
			Judgement},
		{"RestShareMany", RestShareMany, "1", "the same after a pass that leaves many weeds", rest, Judgement},
	}
	people := []Fact{
		{"DefaultPeople", DefaultPeople, "people", "people who weed, if not told",
			"chosen here: the grower alone", Judgement},
		{"DefaultHoursADay", DefaultHoursADay, "h", "hours that a person weeds on a day, if not told",
			"chosen here: morning and late afternoon, without the midday heat", Judgement},
		{"ToolDayHours", ToolDayHours, "h", "hours on a day that a tool can be kept going by people who take turns",
			"chosen here: daylight, less the way and the midday rest", Judgement},
		{"MostHands", MostHands, "people", "most people that it is of use to propose for one plot",
			"chosen here: a gang of a few households", Judgement},
		{"MostTools", MostTools, "tools", "most tools that it is of use to propose for one plot",
			"chosen here: what a few households can borrow", Judgement},
	}
	pace := []Fact{
		{"PaceNoise", PaceNoise, "ln h/h",
			"standard deviation of a grower's hours from one pass to the next, as a logarithm",
			"chosen here: weeds, mud and memory of the hours differ by about half between passes" + paceWhen,
			Judgement},
		{"PaceSpread", PaceSpread, "ln h/h", "standard deviation between growers' own mean hours, as a logarithm",
			"chosen here: the published 42 to 106 h/ha (Shirsat et al. 2016, Agriculture Update 11(2):154-157; Zongo " +
				"et al., Burkina Faso) are about three of it wide" + paceWhen, Judgement},
		{"PaceLimit", PaceLimit, "1", "limit of the ratio of a pass's hours to the model's, and of its inverse",
			"chosen here: further off is a slip of the pen or another job", Judgement},
		{"EightInTen", EightInTen, "1", "standard deviations on each side of the mean that hold eight of ten",
			"normal distribution, 90th percentile", Computed},
	}
	return []Use{
		{"hours of a pass, of pulling and of weeding by hand", hours},
		{"days of work, and how many people it takes", people},
		{"a grower's own hours", pace},
	}
}
