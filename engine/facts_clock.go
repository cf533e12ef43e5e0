package engine

// clock is a published relation between heat and the leaves of weeds. Heat is in degree-days.
type clock struct {
	name               string
	share              float64 // weight of the clock at a place that has learned nothing
	keptHeat, wetHeat  float64 // from the last puddling to emergence, on ground kept under water and on wet ground
	keptBase, wetBase  heatBase
	leafHeat           float64 // for one leaf
	leafBase           heatBase
	closesEarlierClock int // a window closes by the earlier of this clock and the clock with this index
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
	RicePhyllochron   = 83.0
	RiceLeafBaseC     = 9.0
	SownFirstLeaves   = 3.0
	SownFirstFromDays = 15
	SownFirstDays     = 5

	// Panicle initiation, counted back from harvest.
	PanicleToRipeHeat = 1010.0
	PanicleToRipeMost = 0.6
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

	// Reading of leaves.
	NoneUpTo       = 0.5
	ReadingError   = 0.5
	MisreadShare   = 0.02
	AnswerDays     = 3
	AskLeaves      = 1.7
	AskShare       = 0.12
	SureChance     = 0.88
	AskAgainFrom   = 3
	AskAgainTo     = 8
	AskBeforeBest  = 2
	GuessChance    = 0.5
	WindowRunShare = 0.8
)

var clocks = [...]clock{
	{"flooded field", FieldShare, FieldEmergence, HalfEmergence, base0, base10, FieldPhyllochron, base0, 1},
	{"low base", LowBaseShare, LowBaseEmergence, HalfEmergence, base6, base10, LowBasePhyllochron, base6, 1},
	{"held back", HeldBackShare, HalfEmergence + FloodDelay, HalfEmergence, base10, base10, WeedPhyllochron, base10, 2},
	{"fast", FastShare, FastFactor * HalfEmergence, FastFactor * HalfEmergence, base10, base10,
		FastFactor * LowBasePhyllochron, base6, 3},
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
		t[i].closesBy = index[[2]int{clocks[t[i].clock].closesEarlierClock, int(t[i].water)}]
	}
	return t
}()
