package engine

// clock is a published relation between heat and the leaves of weeds. Heat is in degree-days.
type clock struct {
	name               string
	share              float64 // weight of the clock at a place that has learned nothing
	keptHeat, wetHeat  float64 // from the last puddling to emergence, on ground kept under water and on wet ground
	keptBase, wetBase  heatBase
	leafHeat           float64 // for one leaf
	leafBase           heatBase
	closesEarlierClock clockIndex // a window closes by the earlier of this clock and the clock with this index
}

// Constants of the weed clocks and of what is not known about a plot's weeds.
const (
	// Clock "flooded field": leaves and emergence in a flooded field.
	FieldEmergence   = 117.0
	FieldPhyllochron = 98.0
	FieldShare       = 0.35

	// Clock "low base": the same with the base temperature of a related weed, equal at 20 °C.
	WeedLowBaseC       = 6.5
	LowBaseEmergence   = 78.7
	LowBasePhyllochron = 66.4
	LowBaseShare       = 0.25

	// Clock "held back": water holds emergence back, and leaves grow on the base of emergence.
	HalfEmergence   = 93.0
	FloodDelay      = 70.0
	WeedPhyllochron = 45.0
	HeldBackShare   = 0.2

	// Clock "fast": four fifths of the heat, and water holds nothing back.
	FastFactor = 0.8
	FastShare  = 0.2

	// Row-sown rice.
	RiceEmergence     = 100.0
	SownFirstLeaves   = 3.0
	SownFirstFromDays = 15
	SownFirstDays     = 5

	// Panicle initiation, counted back from harvest.
	PanicleToRipeHeat = 1010.0
	PanicleToRipeMost = 0.6
	UsualRipeHeat     = 1854.0
	ToldDurationC     = 27.0
	SownToPanicleHeat = 1040.0
	TransplantShock   = 0.4
	PanicleBestC      = 30.0
	RipeToHarvestDays = 7

	// Spread of the weeds of single plots around the clocks.
	SpeedSpread     = 0.15
	StartSpreadDays = 1.0

	// Chance that ground was kept under water, from what the grower told at registration.
	KeptIfAlways, KeptIfOnOff, KeptIfWet, KeptIfUnknown = 0.85, 0.5, 0.15, 0.6

	// Chance of each answer about the water on ground that is kept under water, and on ground that is only wet.
	DryIfKept, MudIfKept, FingersIfKept, HandIfKept = 0.05, 0.15, 0.5, 0.3
	DryIfWet, MudIfWet, FingersIfWet, HandIfWet     = 0.3, 0.4, 0.25, 0.05

	// Water that was lost and came back.
	SecondFlushTo = 21
	LostDays      = 3

	// Reading of leaves.
	NoneUpTo       = 0.5
	ReadingError   = 0.5
	SurpriseChance = 0.05
	MisreadShare   = 0.02
	AnswerDays     = 3
	AskLeaves      = 1.7
	AskShare       = 0.10
	SureChance     = 0.87
	AskAgainFrom   = 3
	AskAgainTo     = 7
	AskBeforeBest  = 3
	GuessChance    = 0.5
	WindowRunShare = 0.8
)

// clockIndex is an index into clocks.
type clockIndex int

const (
	floodedFieldClock clockIndex = iota
	lowBaseClock
	heldBackClock
	fastClock
)

var clocks = [...]clock{
	floodedFieldClock: {"flooded field", FieldShare, FieldEmergence, HalfEmergence, base0, base10, FieldPhyllochron,
		base0, lowBaseClock},
	lowBaseClock: {"low base", LowBaseShare, LowBaseEmergence, HalfEmergence, base6, base10, LowBasePhyllochron,
		base6, lowBaseClock},
	heldBackClock: {"held back", HeldBackShare, HalfEmergence + FloodDelay, HalfEmergence, base10, base10,
		WeedPhyllochron, base10, heldBackClock},
	fastClock: {"fast", FastShare, FastFactor * HalfEmergence, FastFactor * HalfEmergence, base10, base10,
		FastFactor * LowBasePhyllochron, base6, fastClock},
}

// bookWater says for which ground a book holds.
type bookWater uint8

const (
	bookAny bookWater = iota
	bookKept
	bookWet
)

// book is a clock on one kind of ground.
type book struct {
	clock            int
	water            bookWater
	upHeat, leafHeat float64
	upBase, leafBase heatBase
	closesBy         int // index of the book that also closes the window; its own index if there is none
}

var bookTable = func() (t [books]book) {
	n := 0
	index := map[[2]int]int{}
	for i, c := range clocks {
		for _, water := range []bookWater{bookKept, bookWet} {
			b := book{clock: i, water: water, upHeat: c.keptHeat, upBase: c.keptBase, leafHeat: c.leafHeat,
				leafBase: c.leafBase}
			if water == bookWet {
				b.upHeat, b.upBase = c.wetHeat, c.wetBase
			}
			if c.keptHeat == c.wetHeat && c.keptBase == c.wetBase {
				if water == bookWet {
					continue
				}
				b.water = bookAny
			}
			index[[2]int{i, int(b.water)}] = n
			t[n] = b
			n++
		}
	}
	for i := range t {
		t[i].closesBy = index[[2]int{int(clocks[t[i].clock].closesEarlierClock), int(t[i].water)}]
	}
	return t
}()

// clockFacts returns the facts of the constants in this file, and of the grids of belief.go, learn.go and heat.go.
//
//revive:disable-next-line:function-length a table, one row for each constant
func clockFacts() []Use {
	const (
		iwasaki = "Iwasaki, Enokihara, Ideno, Watajima & Hagimoto 1978, Weed Research (Japan) 23(1):23-28, " +
			"https://www.jstage.jst.go.jp/article/weed1962/23/1/23_1_23/_article/-char/ja, abstract: "
		swanton = "Swanton et al. 2000, Agron. J. 92(6):1125: lower limit of the base of Echinochloa crus-galli"
		pinned  = "computed from the clock of the flooded field: the same days at 20 °C, a temperature chosen here"
		shares  = "chosen here: the flooded field was measured where rice grows, the others elsewhere or not at all"
		oryza   = "ORYZA parameter files in cropmodels/Roryza, inst/oryza/crop, and jrodriguez88/ORYZA_AUTO_PARAM: "
		told    = "chosen here: growers name what is usual, and forget what is not; no trial was found"
		seen    = "chosen here: one look at the water says something about the season's water, not all; no trial was " +
			"found"
		tuned = "chosen here: on simulated plots of all clocks, with several seeds, gives the best advice for at " +
			"most 1.8 looks a window (rowbell practice --compare 1000)"
		exact = "chosen here: a finer grid moves no window by a day"
	)
	weeds := []Fact{
		{"FieldEmergence", FieldEmergence, "°C d", "flooded ground, last puddling to emergence, above 0 °C",
			iwasaki + "214.9 to the first leaf, less 98.3 for that leaf", Computed},
		{"FieldPhyllochron", FieldPhyllochron, "°C d", "for a leaf of Echinochloa oryzicola, above 0 °C",
			iwasaki + "98.3 a leaf in flooded fields", Read},
		{"FieldShare", FieldShare, "1", "weight of the clock of the flooded field", shares, Judgement},
		{"WeedLowBaseC", WeedLowBaseC, "°C", "base temperature of the clock of the low base", swanton, Read},
		{"LowBaseEmergence", LowBaseEmergence, "°C d", "flooded ground, last puddling to emergence, above WeedLowBaseC",
			pinned, Computed},
		{"LowBasePhyllochron", LowBasePhyllochron, "°C d", "for a leaf, above WeedLowBaseC", pinned, Computed},
		{"LowBaseShare", LowBaseShare, "1", "weight of the clock of the low base", shares, Judgement},
		{"HalfEmergence", HalfEmergence, "°C d", "wet ground, last puddling to emergence of half the weeds",
			emergence2021 + ": hydrothermal time, measured in maize; taken for wet ground where water never lacks",
			Read},
		{"FloodDelay", FloodDelay, "°C d", "by which water holds emergence back, in the clock that is held back",
			"calibrated here on common practice: passes two to three weeks after transplanting at 27-28 °C", Judgement},
		{"WeedPhyllochron", WeedPhyllochron, "°C d", "for a leaf above WeedBaseC, in the clock that is held back",
			"chosen here: middle of the range of three grass weeds, 34-65 (Gramig & Stoltenberg 2007, Weed " +
				"Technology)", Judgement},
		{"HeldBackShare", HeldBackShare, "1", "weight of the clock that is held back", shares, Judgement},
		{"FastFactor", FastFactor, "1", "heat of the fast clock, to the others'",
			"chosen here: lower end of the range of three grass weeds (Gramig & Stoltenberg 2007, Weed Technology)",
			Judgement},
		{"FastShare", FastShare, "1", "weight of the fast clock", shares, Judgement},
	}
	sown := []Fact{
		{"RiceEmergence", RiceEmergence, "°C d", "sowing to emergence of rice, above CanopyBaseC",
			"WOFOST parameter file rice_eu: 100 above 8 °C", AsQuoted},
		{"SownFirstLeaves", SownFirstLeaves, "leaves", "leaves of sown rice that stands firm for the tool",
			"chosen here: with three leaves, by the clock of seedlings, the first roots from the stem have grown; " +
				"no trial was found", Judgement},
		{"SownFirstFromDays", SownFirstFromDays, "d", "days after sowing before which the tool would uproot the rice",
			"FAO-INADES 1977, Better Farming 20, sections 24-26: first hoeing in rows 15-20 days after sowing", Read},
		{"SownFirstDays", SownFirstDays, "d", "least days of the first window of sown rice",
			"FAO-INADES 1977, Better Farming 20, sections 24-26: 15-20 days after sowing", Read},
	}
	panicle := []Fact{
		{"PanicleToRipeHeat", PanicleToRipeHeat, "°C d", "panicle initiation to ripeness, 8 to 30 °C",
			oryza + "0.35/DVRP + 1/DVRR is 1,007 for IR72, 1,019 for IR64, 1,118 for Paw Swe, 939 standard", AsQuoted},
		{"PanicleToRipeMost", PanicleToRipeMost, "1",
			"largest share of the heat from sowing to ripeness that lies after panicle initiation",
			"chosen here: for short varieties, somewhat over the 0.54 of Paw Swe, the most of the parameter files",
			Judgement},
		{"UsualRipeHeat", UsualRipeHeat, "°C d", "degree-days from sowing to ripeness that usual varieties need",
			oryza + "847 to panicle initiation and 1,007 to ripeness are the least, IR72", AsQuoted},
		{"ToldDurationC", ToldDurationC, "°C",
			"mean temperature for which a duration was told that the place cannot give",
			"chosen here: at 27 °C Yoshida's 60 days from panicle initiation to harvest fit PanicleToRipeHeat",
			Judgement},
		{"SownToPanicleHeat", SownToPanicleHeat, "°C d", "sowing to panicle initiation, 8 to 30 °C, variety not told",
			oryza + "0.4/DVRJ + 0.25/DVRI is 940 standard, 847-1,032 in all, and RiceEmergence", AsQuoted},
		{"TransplantShock", TransplantShock, "1",
			"share of the nursery's degree-days by which transplanting delays panicle initiation",
			oryza + "SHCKD 0.4", AsQuoted},
		{"PanicleBestC", PanicleBestC, "°C", "temperature above which development gains nothing more",
			oryza + "optimum 30 °C", AsQuoted},
		{"RipeToHarvestDays", RipeToHarvestDays, "d", "days from ripeness to harvest",
			"chosen here: the grower tells the day of cutting, a week after the grain is ripe", Judgement},
	}
	spread := []Fact{
		{"SpeedSpread", SpeedSpread, "1", "standard deviation of the logarithm of the weeds' speed between plots",
			"chosen here: 75-110 °C d a leaf around 98 hold two thirds (Iwasaki et al. 1978; others' base)", Judgement},
		{"StartSpreadDays", StartSpreadDays, "d", "standard deviation of the day on which weeds start, between plots",
			"chosen here: water and level differ by about a day's growth", Judgement},
	}
	kept := []Fact{
		{"KeptIfAlways", KeptIfAlways, "1", "chance that ground is kept under water, told always", told, Judgement},
		{"KeptIfOnOff", KeptIfOnOff, "1", "the same, told comes and goes", told, Judgement},
		{"KeptIfWet", KeptIfWet, "1", "the same, told only wet", told, Judgement},
		{"KeptIfUnknown", KeptIfUnknown, "1", "the same, not told", told, Judgement},
		{"DryIfKept", DryIfKept, "1", "chance of the answer dry on ground kept under water", seen, Judgement},
		{"MudIfKept", MudIfKept, "1", "chance of the answer mud on ground kept under water", seen, Judgement},
		{"FingersIfKept", FingersIfKept, "1", "chance of two fingers on ground kept under water", seen, Judgement},
		{"HandIfKept", HandIfKept, "1", "chance of a hand on ground kept under water", seen, Judgement},
		{"DryIfWet", DryIfWet, "1", "chance of the answer dry on ground that is only wet", seen, Judgement},
		{"MudIfWet", MudIfWet, "1", "chance of the answer mud on ground that is only wet", seen, Judgement},
		{"FingersIfWet", FingersIfWet, "1", "chance of two fingers on ground that is only wet", seen, Judgement},
		{"HandIfWet", HandIfWet, "1", "chance of a hand on ground that is only wet", seen, Judgement},
	}
	flush := []Fact{
		{"SecondFlushTo", SecondFlushTo, "d",
			"days after planting up to which water that comes back brings a second flush of weeds",
			"Chauhan & Johnson, ecological studies on Cyperus and Fimbristylis in rice (title from memory), " +
				"https://discovery.researcher.life: flooding from 21 days after sowing on has little effect", Read},
		{"LostDays", LostDays, "d", "days between two reports of mud after which the ground has lost its water",
			"chosen here: no trial of two to five dry days was found", Judgement},
	}
	look := []Fact{
		{"NoneUpTo", NoneUpTo, "leaves", "most leaves of weeds that a grower does not see yet",
			"chosen here: half of the first leaf", Judgement},
		{"ReadingError", ReadingError, "leaves", "standard deviation of a grower's reading of leaves",
			"chosen here: half a leaf, as a leaf unrolls", Judgement},
		{"SurpriseChance", SurpriseChance, "1", "chance of an answer under which the eye counts alone",
			"chosen here: fewer than one answer in twenty that fits the clocks is so unlikely", Judgement},
		{"MisreadShare", MisreadShare, "1", "chance of an answer that has nothing to do with the weeds",
			"chosen here: a wrong key, or the weeds of another plot", Judgement},
	}
	ask := []Fact{
		{"AskLeaves", AskLeaves, "leaves", "leaves that the fastest weeds have when the first look is asked for",
			tuned, Judgement},
		{"AskShare", AskShare, "1", "share of the distribution that has AskLeaves when the first look is asked for",
			tuned, Judgement},
		{"SureChance", SureChance, "1", "chance of the best day from which no other look is asked for", tuned,
			Judgement},
		{"AskAgainFrom", AskAgainFrom, "d", "least days from a look to the next", tuned, Judgement},
		{"AskAgainTo", AskAgainTo, "d", "most days from a look to the next", tuned, Judgement},
		{"AskBeforeBest", AskBeforeBest, "d", "days before the best day on which to look again", tuned, Judgement},
	}
	guess := []Fact{
		{"GuessChance", GuessChance, "1", "chance of the best day under which the text says that it is a guess",
			"chosen here: below one half it is more likely wrong than right", Judgement},
		{"WindowRunShare", WindowRunShare, "1", "least chance of a day of the window, to the best day's", tuned,
			Judgement},
	}
	grid := []Fact{
		{"beliefSpeeds", beliefSpeeds, "speeds", "speeds on the grid of a plot", exact, Judgement},
		{"beliefStarts", beliefStarts, "starts", "starts on the grid of a plot", exact, Judgement},
		{"books", books, "books", "clocks, told apart by ground where that matters",
			"computed: four clocks on two grounds, one of them the same on both", Computed},
		{"speedStep", speedStep, "SpeedSpread", "distance of two speeds on the grid", exact, Judgement},
		{"startStep", startStep, "StartSpreadDays", "distance of two starts on the grid", exact, Judgement},
		{"leafMost", leafMost, "leaves", "leaves beyond which the chances of answers are the same",
			"chosen here: twice the leaves of weeds that are too big", Judgement},
		{"leafSteps", leafSteps, "1/leaf", "steps in which the chances of answers are held", exact, Judgement},
		{"leafAnswers", leafAnswers, "answers", "answers to the question for leaves", "computed: the values of Leaves",
			Computed},
		{"chanceStep", chanceStep, "1", "least difference of chances that moves the best day",
			"chosen here: more than rounding", Judgement},
		{"fieldSpeeds", fieldSpeeds, "speeds", "speeds of a plot on the grid of learning", exact, Judgement},
		{"fieldStep", fieldStep, "1", "distance of their logarithms", exact, Judgement},
		{"extendBy", extendBy, "d", "days by which sums of heat grow at a time", "chosen here: speed only", Judgement},
		{"usualDays", usualDays, "d", "days for which sums of heat have room at first",
			"chosen here: the days that a warm place needs; speed only", Judgement},
	}
	answers := []Fact{
		{"AnswerDays", AnswerDays, "d", "days in which a leaf count answers a question", "chosen here", Judgement},
	}
	return []Use{
		{"days of windows", weeds},
		{"first pass in sown rice", sown},
		{"last day of the tool, where panicles form", panicle},
		{"chance of a window", spread},
		{"whether the ground counts as kept under water", kept},
		{"window after the water was lost and came back", flush},
		{"what a leaf count says", look},
		{"what a place learns of its weeds", answers},
		{"day of a look", ask},
		{"whether a window is a guess, and how long it is", guess},
		{"exactness of the chance of a window", grid},
	}
}
