package engine

// Work: hours, hands and the body.
const (
	HandHoursPerHa = 200.0
)

func workFacts() []Fact {
	return []Fact{
		{"HandHoursPerHa", HandHoursPerHa, "h/ha", "weeding a hectare once by hand, one person",
			"a cultivator comparison in Sri Lanka: hand weeding 0.005 ha/h, https://discovery.researcher.life/topic/highest-field-capacity/6752918?page=2", Read},
	}
}
