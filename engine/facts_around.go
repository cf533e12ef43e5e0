package engine

// Constants of the works around the passes.
const (
	// Puddling before planting.
	PuddleApartDays = 14
	PuddleFirstDays = 7
	PuddleLastDays  = 1
	LevelCM         = 2.5

	// Days after transplanting until which gaps are filled.
	GapsDays, GapsAgainDays = 7, 15

	// Top-dressing: degree-days of active tillering, days from panicle initiation, and water on the plot.
	TilleringFromHeat, TilleringToHeat = 290.0, 390.0
	TopDressDays                       = 5
	TopDressLowCM, TopDressHighCM      = 2, 3

	// Draining.
	DrainDays        = 5
	DrainAfterDays   = 30
	DrainHarvestDays = 10

	// Apple snails.
	SnailDays         = 35
	SnailWaterCM      = 5
	SnailHardyAgeDays = 30

	ToolCareDays = 1
)

// aroundFacts returns the facts of the constants in this file.
func aroundFacts() []Use {
	const (
		organic = "NARO, organic rice manual, ml-wiki.sys.affrc.go.jp/Organic-Pro/kihon/5: second puddling two weeks " +
			"or more after the first, flooded between; works on barnyardgrass, not on Monochoria"
		water3 = "http://rkmp.co.in/content/water-management-3: "
		topped = "http://agropedia.iitk.ac.in/blogs/vikramsrf (in Hindi): last top-dressing as panicles begin, 50-55 " +
			"days after transplanting, with at most 2-3 cm of water"
		teo = "Teo 2003, Damage potential of the golden apple snail (author from memory), " +
			"https://discovery.researcher.life/article/" +
			"damage-potential-of-the-golden-apple-snail-pomacea-canaliculata-lamarck-in-irrigated-rice-" +
			"and-its-control-by-cultural-approaches/8a08ecefac3b3083a7ecb1382c57f403: "
	)
	return []Use{{"work around the passes", []Fact{
		{"PuddleApartDays", PuddleApartDays, "d", "least days from the first to the last puddling", organic, Read},
		{"PuddleFirstDays", PuddleFirstDays, "d", "days for the first puddling", "chosen here: a week to find time in",
			Judgement},
		{"PuddleLastDays", PuddleLastDays, "d", "days before planting in which the last puddling is due",
			"chosen here: the day before planting or the same day", Judgement},
		{"LevelCM", LevelCM, "cm", "most that a spot of a transplanted field may be too high or too low",
			"https://www.jeinou.com/benri/rice/2008/06/170936.html", Read},

		{"GapsDays", GapsDays, "d", "days after transplanting until which missing hills are replanted",
			"PhilRice, https://www.pinoyrice.com/keycheck3-crop-establishment/how-to-transplant-rice/; 1 week also " +
				"in http://www.rkmp.co.in/content/transplanting-for-irrigated-rice", Read},
		{"GapsAgainDays", GapsAgainDays, "d", "days after transplanting until which gaps are filled again",
			"http://www.rkmp.co.in/content/transplanting-for-irrigated-rice", Read},

		{"TilleringFromHeat", TilleringFromHeat, "°C d", "rice degree-days of growth when active tillering begins",
			"calibrated here: recalled 20-25 days after transplanting and 33-38 after sowing at 27.5 °C", FromMemory},
		{"TilleringToHeat", TilleringToHeat, "°C d",
			"rice degree-days of growth until which the first top-dressing is due",
			"calibrated here: recalled 20-25 days after transplanting and 33-38 after sowing at 27.5 °C", FromMemory},
		{"TopDressDays", TopDressDays, "d", "days from panicle initiation in which the last top-dressing is due",
			topped, Read},
		{"TopDressLowCM", TopDressLowCM, "cm", "least water told for a top-dressing", topped, Read},
		{"TopDressHighCM", TopDressHighCM, "cm", "most water for a top-dressing", topped, Read},

		{"DrainDays", DrainDays, "d", "days for which the field is drained after tillering",
			water3 + "drained for 4-5 days after maximum tillering, against late tillers. That tillering ends at " +
				"panicle initiation: IRRI, vegetative phase, http://www.knowledgebank.irri.org/ipm/index.php/" +
				"the-basics-of-pest-ecology/crop-growth-and-pest-damage/vegetative-phase", Read},
		{"DrainAfterDays", DrainAfterDays, "d", "days after planting in which the field is not drained for tillering",
			water3 + "a thin film of water for 30 days, then drained; short varieties end tillering before", Read},
		{"DrainHarvestDays", DrainHarvestDays, "d", "days before harvest from which the water is let off",
			water3 + "drained completely 10 days before harvest", Read},

		{"SnailDays", SnailDays, "d", "days after planting until which snails eat the plants",
			"Arfan et al. 2016, Experimental Agriculture 53:528-538, doi 10.1017/S0014479716000557: no further " +
				"damage after week five; 14-day-old seedlings were lost, the most damage was with 5 cm of water", Read},
		{"SnailWaterCM", SnailWaterCM, "cm", "water over which snails eat most young plants",
			teo + "over 5 cm 89.2 % of 21-day-old seedlings damaged, on drained, saturated ground hardly any", Read},
		{"SnailHardyAgeDays", SnailHardyAgeDays, "d", "age of seedlings that snails hardly damage in 5 cm of water",
			teo + "at 5 cm no damage that counts to 30- and 40-day-old seedlings, over 5 cm 59.7 and 46 %", Read},

		{"ToolCareDays", ToolCareDays, "d", "days after a pass in which the tool is cleaned and checked",
			"chosen here: mud dries hard in a day. Washing, greasing and checking: common practice", Judgement},
	}}}
}
