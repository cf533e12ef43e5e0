package engine

// Means says whether a weeding was done with the tool or by hand.
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
	Along          // along the rows only
	Across         // across the rows only
	Both           // along and across
)

func (w Way) String() string { return name(w, "unknown", "along", "across", "both") }

// Amount is how many weeds a grower saw: on the whole plot in a Sighting, left in the rows in a Pass.
type Amount uint8

const (
	AmountUnknown Amount = iota
	Few
	Some
	Many
)

func (a Amount) String() string { return name(a, "unknown", "few", "some", "many") }

// Leaves is the number of leaves that most weeds have, as told by the grower.
type Leaves uint8

const (
	LeavesUnknown Leaves = iota
	OneLeaf              // most weeds have one leaf
	TwoThree             // two or three leaves: the tool works best
	FourPlus             // four leaves or more: too big for the tool
	NoneUp               // no weeds yet
)

func (l Leaves) String() string { return name(l, "unknown", "1", "2-3", "4+", "none") }

// BBCH returns the leaf stage as codes of the BBCH scale (Lancashire et al. 1991), where 11 to 19 are one to nine
// unfolded leaves; 0 and 0 for LeavesUnknown. A window lasts from code 12 to code 14.
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

// Pass is one weeding of a plot, or of a part of it; see Share.
type Pass struct {
	On     Day
	With   Means
	Way    Way
	Hours  float64 // 0 = not given
	People int     // 0 = not given
	Left   Amount  // weeds that were left in the rows after the pass
	Share  float64 // share of the plot that was weeded, above 0 to 1; 0 = all of it
}

// Rows says whether the crop has closed: between open rows the water is still visible.
type Rows uint8

const (
	RowsUnknown Rows = iota
	RowsOpen
	RowsClosed
)

func (r Rows) String() string { return name(r, "unknown", "open", "closed") }

// Stands is the depth of the standing water on the plot, as the grower sees it.
type Stands uint8

const (
	StandsUnknown Stands = iota
	StandsDry            // the ground is dry or cracked
	StandsMud            // mud without water on it
	StandsFingers        // water two fingers deep
	StandsHand           // water as deep as a hand is wide
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

// ofWeeds reports whether the sighting says anything about weeds.
func (s Sighting) ofWeeds() bool { return s.Leaves != LeavesUnknown || s.Amount != AmountUnknown }

// MovesWindows reports whether the sighting says anything about weeds or rows, and so can move a window.
func (s Sighting) MovesWindows() bool { return s.ofWeeds() || s.Rows != RowsUnknown }

// BeforePlanting reports whether a pass was over other rice than that planted on day d. It was if it was on that day:
// new rice has no weeds yet.
func (p Pass) BeforePlanting(d Day) bool { return p.On <= d }

// BeforePlanting reports whether a sighting was of other rice than that planted on day d. Water that was seen on that
// day may be that of the new rice.
func (s Sighting) BeforePlanting(d Day) bool { return s.On < d || s.On == d && s.MovesWindows() }
