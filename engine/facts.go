package engine

// The engine's constants: every number it reckons with that is not a unit
// conversion or the calendar's. Facts lists each with unit, meaning, source
// and how far to trust it; a test fails for one that has no row there.
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
	HalfEmergence      = 93.0
	WeedPhyllochron    = 45.0
	FloodDelay         = 70.0
	WindowOpensLeaves  = 2.0
	WindowBestLeaves   = 2.5
	WindowClosesLeaves = 4.0
	FirstPassDays      = 10

	// Codes of the BBCH scale for leaf development.
	BBCHUnrolling  = 10
	BBCHTwoLeaves  = 12
	BBCHFourLeaves = 14
	BBCHNineLeaves = 19

	// After a pass that left many weeds.
	AgainOpensDays  = 7
	AgainBestDays   = 10
	AgainClosesDays = 12

	// Canopy.
	CanopyBaseC     = 8.0
	SeedlingLeafCM2 = 7.0
	TransplantPause = 0.25
	LeafGrowthRate  = 0.0080
	LeafCeiling     = 6.0
	LightExtinction = 0.5
	ClosedShade     = 0.85
	SownPlantsPerM2 = 100.0
	PlantsBigHeat   = 975.0

	// What a plot is taken to be where the grower has not said.
	DefaultSeedlingAgeDays  = 18
	DefaultSeedlingsPerHill = 2
	DefaultDurationDays     = 120

	// Calendar.
	PanicleBeforeHarvestDays = 65
	RowsOpenHoldsDays        = 5
	PrepareDays              = 2
	FollowUpDays             = 3
	LaterWindows             = 4
	HandEarlyDays            = 7
	HandFirstFrom            = 10
	HandFirstTo              = 14
	HandSecondDATFrom        = 30
	HandSecondDATTo          = 32
	HandThirdDATFrom         = 40
	HandThirdDATTo           = 42
	HandSecondDASFrom        = 40
	HandSecondDASTo          = 42
	HandThirdDASFrom         = 50
	HandThirdDASTo           = 52

	// Texts.
	TextsAWeek     = 3
	TextsWeekDays  = 7
	NudgeAfterDays = 2
	MovedDays      = 2

	// Temperatures that are no slip of the pen.
	ColdestC = -60
	HottestC = 60

	// MaxDayRainMM is the most rain of one day that is no slip of the pen.
	MaxDayRainMM = 2000

	// Rain of a month, in mm, that is no slip either; and the pole.
	MostRainMM = 10_000
	rightAngle = 90

	// What a place may learn of its weeds.
	MinWeedRate = 0.7
	MaxWeedRate = 1.4
)

// Bounds that keep a walk finite and a text from outliving its sense.
const (
	// horizon bounds every walk along the season, in days: no season of
	// lowland rice is longer.
	horizon = 240

	// Useful days of the texts that outlive their window.
	missedUsefulDays = 5
	closedUsefulDays = 7

	// middle is the day of the month for which a month's mean stands.
	middle = 15
)

// Trust says how far a number is to be trusted.
type Trust uint8

const (
	Read           Trust = iota + 1 // read in the publication, its abstract or an excerpt
	AsQuoted                        // a published number read as quoted by somebody else
	FromMemory                      // recalled, not confirmed
	Computed                        // arithmetic from a stated formula
	CommonPractice                  // a rule of the trade, no source
	Judgement                       // chosen here, for the reason given
)

func (t Trust) String() string {
	return name(t, "", "read", "as quoted", "from memory", "computed", "common practice", "judgement")
}

// MarshalText gives a Trust its words in JSON.
func (t Trust) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// Fact is one constant of the engine and where it comes from.
type Fact struct {
	Name    string // the constant's name in Go
	Value   float64
	Unit    string // "1" for a plain number
	Meaning string
	Source  string // author, year, title, page or address; or the reason
	Trust   Trust
}
