package engine

// Constants for the fit of a tool, windows, crop and texts. A test fails if a constant of the engine has no fact.
const (
	// Spacing and tool.
	SideClearanceCM  = 2.5
	LooseClearanceCM = 5.0
	SquareTolerance  = 0.1
	PushSpeedKMH     = 1.2
	FieldEfficiency  = 0.65

	// Weed clock.
	WeedBaseC          = 10.8
	HeatCeilingC       = 34.0
	WindowOpensLeaves  = 2.0
	WindowClosesLeaves = 4.0
	FirstPassDays      = 10

	// Codes of the BBCH scale for leaf development.
	BBCHUnrolling, BBCHTwoLeaves, BBCHFourLeaves, BBCHNineLeaves = 10, 12, 14, 19

	// After a pass that left many weeds, the next window opens, is best and closes this many days later.
	AgainOpensDays, AgainBestDays, AgainClosesDays = 7, 10, 12

	// Canopy.
	CanopyBaseC     = 8.0
	SeedlingLeafCM2 = 7.0
	TransplantPause = 0.25
	DeepPause       = 83.0
	LeafGrowthRate  = 0.0080
	LeafCeiling     = 6.0
	LightExtinction = 0.5
	ClosedShade     = 0.85
	SownPlantsPerM2 = 100.0
	PlantsBigHeat   = 975.0

	// Defaults for details of a plot that the grower did not give.
	DefaultSeedlingAgeDays  = 18
	DefaultSeedlingsPerHill = 2
	DefaultDurationDays     = 120

	// Calendar.
	RowsOpenHoldsDays                  = 5
	PrepareDays                        = 2
	FollowUpDays                       = 3
	PartCounts                         = 0.5
	LaterWindows                       = 4
	HandEarlyDays                      = 7
	HandFirstFrom, HandFirstTo         = 10, 14
	HandSecondDATFrom, HandSecondDATTo = 30, 32
	HandThirdDATFrom, HandThirdDATTo   = 40, 42
	HandSecondDASFrom, HandSecondDASTo = 40, 42
	HandThirdDASFrom, HandThirdDASTo   = 50, 52

	// Texts.
	TextsAWeek     = 3
	TextsWeekDays  = 7
	NudgeAfterDays = 2
	OpenKnownDays  = 4
	MovedDays      = 2
	EndSoonDays    = 2
)

// Limits on loops over days, and on the number of days for which a text is useful.
const (
	// horizon is the most days that a loop covers. No season of lowland rice is longer.
	horizon = 240

	// Days for which the texts about a missed window and about the end of the season are useful.
	missedUsefulDays, closedUsefulDays = 5, 7

	// middle is the day of the month on which the temperatures equal the month's normals.
	middle = 15
)

// seasonFacts holds the facts of the constants in this file.
var seasonFacts = []Use{
	{"whether a tool fits the rows", fitFacts},
	{"hours of a pass by a tool of this width", pushFacts},
	{"days of windows", weedsFacts},
	{"leaf stages named by code", stagesFacts},
	{"window after a pass that left many weeds", againFacts},
	{"day on which rows close or plants are too big", canopyFacts},
	{"plots of which a detail was not told", untoldFacts},
	{"last day of the tool after rows were seen open", seenFacts},
	{"what to do on a day", statesFacts},
	{"days of weeding by hand", handFacts},
	{"how often a grower gets texts", textsFacts},
	{"length of a season in loops", loopsFacts},
	{"until when a late text is still sent", usefulFacts},
	{"temperature of a day without measurement", monthFacts},
}

var fitFacts = []Fact{
	{"SideClearanceCM", SideClearanceCM, "cm", "free space a tool must leave on each side in the row",
		"common practice, no source: a 15 cm tool needs rows of at least 20 cm", CommonPractice},
	{"LooseClearanceCM", LooseClearanceCM, "cm", "free space on each side beyond which a tool leaves too wide a strip",
		"chosen here: twice the least clearance", Judgement},
	{"SquareTolerance", SquareTolerance, "1", "share by which the two spacings may differ and still be square",
		"chosen here: about what a marked line or rake errs by", Judgement},
}

var pushFacts = []Fact{
	{"PushSpeedKMH", PushSpeedKMH, "km/h", "pace of a person pushing the tool through mud",
		"recalled: 1.0-2.0 km/h in mud; a motor weeder walked at 1.65 km/h", FromMemory},
	{"FieldEfficiency", FieldEfficiency, "1", "share of the time in the field that is spent weeding",
		"recalled: 0.60-0.75 for hand-pushed tools; three cone weeders reached 0.57, 0.65 and 0.79 (Shirsat et " +
			"al. 2016, Agriculture Update 11(2):154-157)", FromMemory},
}

var weedsFacts = []Fact{
	{"WeedBaseC", WeedBaseC, "°C",
		"temperature below which weeds do not emerge (Echinochloa crus-galli); in one clock also for leaves",
		emergence2021, Read},
	{"HeatCeilingC", HeatCeilingC, "°C", "temperature above which growth gains nothing more",
		"chosen here: upper end of the caps in use, 30-34 °C; a grass weed grows up to 52 °C (Swanton et al. " +
			"2000, Agron. J. 92(6):1125), rice best near 26-30 °C", Judgement},
	{"WindowOpensLeaves", WindowOpensLeaves, "leaves", "leaves of most weeds when the window opens",
		irriMechanical + `: "Only effective with young weeds (2- to 4-leaf stage)"`, Read},
	{"WindowClosesLeaves", WindowClosesLeaves, "leaves", "leaves of most weeds when the window closes",
		irriMechanical + `: "Only effective with young weeds (2- to 4-leaf stage)"`, Read},
	{"FirstPassDays", FirstPassDays, "d", "days after planting before which the tool would uproot the plants",
		tnrri + ": first pass 10-15 days after planting", Read},
}

var stagesFacts = []Fact{
	{"BBCHUnrolling", BBCHUnrolling, "BBCH code", "first leaf not yet unrolled", bbch, Read},
	{"BBCHTwoLeaves", BBCHTwoLeaves, "BBCH code", "two leaves unfolded", bbch, Read},
	{"BBCHFourLeaves", BBCHFourLeaves, "BBCH code", "four leaves unfolded", bbch, Read},
	{"BBCHNineLeaves", BBCHNineLeaves, "BBCH code", "nine leaves or more unfolded", bbch, Read},
}

var againFacts = []Fact{
	{"AgainOpensDays", AgainOpensDays, "d", "days after a pass that left many weeds when the next window opens",
		tnrri + ": 7-10 days between passes", Read},
	{"AgainBestDays", AgainBestDays, "d", "days after a pass that left many weeds that are best for the next",
		tnrri + ": 7-10 days between passes", Read},
	{"AgainClosesDays", AgainClosesDays, "d", "days after a pass that left many weeds when the next window closes",
		"chosen here: 7-12 days, from the published 7-10 (TNRRI) and the 10-12 of Malagasy farmers (from memory)",
		Judgement},
}

var canopyFacts = []Fact{
	{"CanopyBaseC", CanopyBaseC, "°C", "temperature below which rice leaf area does not grow",
		oryzaFiles + "TBLV 8", AsQuoted},
	{"SeedlingLeafCM2", SeedlingLeafCM2, "cm2", "leaf area of a seedling when it is planted",
		"chosen here: " + closingDays, Judgement},
	{"TransplantPause", TransplantPause, "1",
		"share of the nursery's degree-days for which leaf area stands still after transplanting",
		oryzaFiles + "SHCKL 0.25", AsQuoted},
	{"DeepPause", DeepPause, "°C d",
		"degree-days for which leaf area stands still longer if seedlings stand deeper than the white of the stem",
		"that deep planting delays the crop is common practice, no source; one leaf is chosen here: CERES-Rice, file " +
			"RICER048.CUL of DSSAT, phyllochron 83 above 9 °C", Judgement},
	{"LeafGrowthRate", LeafGrowthRate, "1/(°C d)",
		"relative growth of leaf area in a degree-day while plants stand free",
		oryzaFiles + "RGRLMX 0.0085, RGRLMN 0.0040; " + closingDays, AsQuoted},
	{"LeafCeiling", LeafCeiling, "m2/m2", "leaf area index that a good crop does not pass",
		"recalled from textbooks: 5-7 for irrigated rice", FromMemory},
	{"LightExtinction", LightExtinction, "1", "extinction of light in the crop, k of 1 - exp(-k LAI)",
		oryzaFiles + "KDF 0.4 to panicle initiation, then 0.6; 0.54 and 0.74 fitted in Myanmar", AsQuoted},
	{"ClosedShade", ClosedShade, "1", "share of the ground shaded at which weeds stop",
		`Tropical Agriculture 56(4): "to reduce PAR at soil level by 85 and 95 per cent, and so inhibit weed ` +
			`growth", ` +
			"https://journals.sta.uwi.edu/ta/index.asp?action=viewPastAbstract&articleId=2979&issueId=282", Read},
	{"SownPlantsPerM2", SownPlantsPerM2, "plants/m2", "plants in a sown plot whose spacing in the row is not told",
		"recalled: 100-150 plants a square metre of a sown crop", FromMemory},
	{"PlantsBigHeat", PlantsBigHeat, "°C d", "rice degree-days after which plants are too big for the tool",
		"calibrated here, 50 days at 27.5 °C: a tool of low clearance could not weed at 40 days (Wan Ishak et " +
			"al. 2015, http://webagris.upm.edu.my/7724); that it damages big plants is common practice", Judgement},
}

var untoldFacts = []Fact{
	{"DefaultSeedlingAgeDays", DefaultSeedlingAgeDays, "d", "age of seedlings if not told",
		"common practice, no source: 15 to 20 days", CommonPractice},
	{"DefaultSeedlingsPerHill", DefaultSeedlingsPerHill, "seedlings", "seedlings a hill if not told",
		"common practice, no source: 1 to 3", CommonPractice},
	{"DefaultDurationDays", DefaultDurationDays, "d", "seed to harvest if not told",
		"Yoshida 1981, Fundamentals of Rice Crop Science, p. 221: about 120 days is optimum", Read},
}

var seenFacts = []Fact{
	{"RowsOpenHoldsDays", RowsOpenHoldsDays, "d", "days for which rows that a grower saw open are taken to stay open",
		"chosen here: a week's growth, less the doubt", Judgement},
}

var statesFacts = []Fact{
	{"PrepareDays", PrepareDays, "d", "days before a window to see to water, tool and hands",
		"chosen here: water takes a day or two to let in", Judgement},
	{"FollowUpDays", FollowUpDays, "d", "days after a pass to pull what stands in the rows",
		"chosen here; that it is done soon after the pass is common practice", Judgement},
	{"PartCounts", PartCounts, "1", "share of a plot from which a part that was weeded counts as a pass over the plot",
		"chosen here: most of the weeds that grow then began to grow after it", Judgement},
	{"LaterWindows", LaterWindows, "windows", "windows after the next that a plan looks ahead",
		"chosen here: more passes than a season has", Judgement},
}

var handFacts = []Fact{
	{"HandEarlyDays", HandEarlyDays, "d", "days before a usual hand-weeding from which a weeding counts for it",
		"chosen here", Judgement},
	{"HandFirstFrom", HandFirstFrom, "d", "first hand-weeding, from this day after planting",
		"chosen here: smaller weeds are hard to pull (https://rkbassam.in/weed-management.php waits two weeks)",
		Judgement},
	{"HandFirstTo", HandFirstTo, "d", "first hand-weeding, to this day after planting",
		irriManual + ": within two weeks", Read},
	{"HandSecondDATFrom", HandSecondDATFrom, "d", "second hand-weeding of transplanted rice, from", irriManual, Read},
	{"HandSecondDATTo", HandSecondDATTo, "d", "second hand-weeding of transplanted rice, to", irriManual, Read},
	{"HandThirdDATFrom", HandThirdDATFrom, "d", "third hand-weeding of transplanted rice, from", irriManual, Read},
	{"HandThirdDATTo", HandThirdDATTo, "d", "third hand-weeding of transplanted rice, to", irriManual, Read},
	{"HandSecondDASFrom", HandSecondDASFrom, "d", "second hand-weeding of sown rice, from", irriManual, Read},
	{"HandSecondDASTo", HandSecondDASTo, "d", "second hand-weeding of sown rice, to", irriManual, Read},
	{"HandThirdDASFrom", HandThirdDASFrom, "d", "third hand-weeding of sown rice, from", irriManual, Read},
	{"HandThirdDASTo", HandThirdDASTo, "d", "third hand-weeding of sown rice, to", irriManual, Read},
}

var textsFacts = []Fact{
	{"TextsAWeek", TextsAWeek, "texts", "most texts about a plot in TextsWeekDays",
		"chosen here: a text must stay worth reading", Judgement},
	{"TextsWeekDays", TextsWeekDays, "d", "days over which texts about a plot are counted", "chosen here", Judgement},
	{"NudgeAfterDays", NudgeAfterDays, "d", "days that a grower has at least to act before a nudge", "chosen here",
		Judgement},
	{"OpenKnownDays", OpenKnownDays, "d", "days for which a grower who looked knows the days of the window",
		"chosen here: a text on its first day would say again what the answer said", Judgement},
	{"MovedDays", MovedDays, "d", "days by which a window must move for the grower to be told",
		"chosen here: a day more or less is within what a leaf count is worth", Judgement},
	{"EndSoonDays", EndSoonDays, "d", "last days of the tool on which a missed window is not told",
		"chosen here: the text about the end, a day or two later, says the same", Judgement},
}

var loopsFacts = []Fact{
	{"horizon", horizon, "d", "longest walk along a season",
		"chosen here: beyond the longest varieties, 160-200 days (Yoshida 1981, Fundamentals of Rice Crop " +
			"Science, p. 221)", Judgement},
}

var usefulFacts = []Fact{
	{"missedUsefulDays", missedUsefulDays, "d", "days for which the text that a window was missed stays useful",
		"chosen here", Judgement},
	{"closedUsefulDays", closedUsefulDays, "d", "days for which the text that the rows have closed stays useful",
		"chosen here", Judgement},
}

var monthFacts = []Fact{
	{"middle", middle, "day of month", "day for which a month's mean temperature stands",
		"chosen here: the middle of the month", Judgement},
}
