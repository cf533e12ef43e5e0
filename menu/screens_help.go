package menu

// helpScreens explain how to use the tool and what to be careful about. They tell growers to follow local rules and to
// ask the health worker.
func helpScreens() []Screen {
	return []Screen{
		{Rest: true, ID: "help", Ask: "help.ask", Choices: []Choice{
			{Label: "help.when", To: "help.when"},
			{Label: "help.tool", To: "help.tool"},
			{Label: "help.water", To: "help.water"},
			{Label: "help.safety", To: "help.safety"},
			{Label: "help.about", To: "help.about"},
		}},
		{Rest: true, ID: "help.when", Ask: "help.when-text"},
		{Rest: true, ID: "help.tool", Ask: "help.tool-text"},
		{Rest: true, ID: "help.water", Ask: "help.water-text"},
		{Rest: true, ID: "help.safety", Ask: "help.safety-text",
			Choices: []Choice{{Label: "help.next", To: "help.heat"}}},
		{Rest: true, ID: "help.heat", Ask: "help.heat-text",
			Choices: []Choice{{Label: "help.next", To: "help.skin"}}},
		{Rest: true, ID: "help.skin", Ask: "help.skin-text",
			Choices: []Choice{{Label: "help.next", To: "help.health"}}},
		{Rest: true, ID: "help.health", Ask: "help.health-text"},
		{Rest: true, ID: "help.about", Ask: "help.about-text"},
	}
}
