package engine

// Constants of work, people and pace.
const (
	HandHoursPerHa                        = 200.0
	ToolHoursPerHaLow, ToolHoursPerHaHigh = 45.0, 110.0

	PullShareFew, PullShareSome, PullShareMany = 0.2, 0.3, 0.4

	DefaultPeople    = 1
	DefaultHoursADay = 6.0
	ToolDayHours     = 10.0
	MostHands        = 10

	PaceNoise  = 0.4
	PaceSpread = 0.3
	PaceLimit  = 4.0
	EightInTen = 1.2816
)

// workFacts returns the facts of the constants in this file.
func workFacts() []Use {
	const (
		range45 = "chosen here: published tools took 42 to 106 h/ha (Shirsat et al. 2016, Agriculture Update " +
			"11(2):154-157; Zongo et al., Burkina Faso), and " + irriMechanical + " says 6-8 person-days"
		pulling = "chosen here: a tool narrower than the row leaves strips, taken as a fifth to two fifths of the " +
			"tool's own work"
		paceWhen = "; with both, k = 1.8 passes weigh as much as the model"
	)
	hours := []Fact{
		{"HandHoursPerHa", HandHoursPerHa, "h/ha", "weeding a hectare once by hand, one person",
			"computed: 1/0.005, from the 0.005 ha/h that a cultivator comparison in Sri Lanka quotes for weeding by " +
				"hand, https://discovery.researcher.life/topic/highest-field-capacity/6752918?page=2", Computed},
		{"ToolHoursPerHaLow", ToolHoursPerHaLow, "h/ha", "least that a pass with the tool usually takes one person",
			range45, Judgement},
		{"ToolHoursPerHaHigh", ToolHoursPerHaHigh, "h/ha", "most that a pass with the tool usually takes one person",
			range45, Judgement},
		{"PullShareFew", PullShareFew, "1",
			"hours of pulling after a pass one way that leaves few weeds, per hour of the pass", pulling, Judgement},
		{"PullShareSome", PullShareSome, "1",
			"hours of pulling after a pass one way that leaves some weeds, or not told, per hour of the pass", pulling,
			Judgement},
		{"PullShareMany", PullShareMany, "1",
			"hours of pulling after a pass one way that leaves many weeds or wide strips, per hour of the pass",
			pulling, Judgement},
	}
	people := []Fact{
		{"DefaultPeople", DefaultPeople, "people", "people who weed, if not told",
			"chosen here: the grower alone", Judgement},
		{"DefaultHoursADay", DefaultHoursADay, "h", "hours that a person weeds on a day, if not told",
			"chosen here: morning and late afternoon, without the midday heat", Judgement},
		{"ToolDayHours", ToolDayHours, "h", "hours on a day that a tool can be kept going by people who take turns",
			"chosen here: daylight, less the way and the midday rest", Judgement},
		{"MostHands", MostHands, "people", "most people that it is of use to propose for one plot",
			"chosen here: a few households together", Judgement},
	}
	pace := []Fact{
		{"PaceNoise", PaceNoise, "ln h/h",
			"standard deviation of a grower's hours from one pass to the next, as a logarithm",
			"chosen here: weeds, mud and memory of the hours differ by about half between passes" + paceWhen,
			Judgement},
		{"PaceSpread", PaceSpread, "ln h/h", "standard deviation between growers' own mean hours, as a logarithm",
			"chosen here: the published 42 to 106 h/ha are about three of it wide" + paceWhen, Judgement},
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
