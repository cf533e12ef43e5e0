package engine

// Means is what a weeding was done with.
type Means uint8

const (
	ByTool Means = iota + 1
	ByHand
)

func (m Means) String() string { return name(m, "", "tool", "hand") }

// Way is the direction of a pass with the tool.
type Way uint8

const (
	WayUnknown Way = iota
	Along          // one direction, along the rows
	Across         // one direction, across
	Both           // along and across
)

func (w Way) String() string { return name(w, "unknown", "along", "across", "both") }

// Amount is how much weed a grower saw: over the plot in a Sighting, left in
// the rows after a Pass.
type Amount uint8

const (
	AmountUnknown Amount = iota
	Few
	Some
	Many
)

func (a Amount) String() string { return name(a, "unknown", "few", "some", "many") }

// Leaves is the leaf stage of most weeds as a grower tells it.
type Leaves uint8

const (
	LeavesUnknown Leaves = iota
	OneLeaf              // one leaf, or only just up
	TwoThree             // the tool's best time
	FourPlus             // too big for the tool
)

func (l Leaves) String() string { return name(l, "unknown", "1", "2-3", "4+") }

// BBCH gives the stage as codes of the BBCH scale (Lancashire et al. 1991),
// first and last, where 11 to 19 count unfolded leaves: a window is 12 to 14,
// and 14, four leaves, ends it. Both are 0 for a stage not told.
func (l Leaves) BBCH() (first, last int) {
	switch l {
	case OneLeaf:
		return BBCHUnrolling, BBCHUnrolling + 1
	case TwoThree:
		return BBCHTwoLeaves, BBCHTwoLeaves + 1
	case FourPlus:
		return BBCHFourLeaves, BBCHNineLeaves
	}
	return 0, 0
}

// number is the leaf count that the stage stands for in the weed clock.
func (l Leaves) number() float64 {
	switch l {
	case OneLeaf:
		return 1
	case TwoThree:
		return WindowBestLeaves
	case FourPlus:
		return WindowClosesLeaves
	}
	return 0
}

// Pass is one weeding of a plot.
type Pass struct {
	On     Day
	With   Means
	Way    Way
	Hours  float64 // 0 = not told
	People int     // 0 = not told
	Left   Amount  // what stood in the rows afterwards
}

// Rows is whether a grower can still see water between the rows.
type Rows uint8

const (
	RowsUnknown Rows = iota
	RowsOpen
	RowsClosed
)

func (r Rows) String() string { return name(r, "unknown", "open", "closed") }

// Stands is how much water a grower sees standing on the plot.
type Stands uint8

const (
	StandsUnknown Stands = iota
	StandsDry            // the ground is dry or cracked
	StandsMud            // mud, no water on it
	StandsFingers        // two fingers deep
	StandsHand           // a hand's width deep
)

func (s Stands) String() string { return name(s, "unknown", "dry", "mud", "two fingers", "a hand") }

// Sighting is what a grower saw on a day without weeding.
type Sighting struct {
	On     Day
	Leaves Leaves
	Amount Amount
	Rows   Rows
	Water  Stands
}

// ofWeeds reports that the sighting says something of the weeds.
func (s Sighting) ofWeeds() bool { return s.Leaves != LeavesUnknown || s.Amount != AmountUnknown }

// MovesWindows reports that the sighting can move a window: it says something
// of the weeds or of the rows.
func (s Sighting) MovesWindows() bool { return s.ofWeeds() || s.Rows != RowsUnknown }
