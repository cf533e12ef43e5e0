package engine

import (
	"errors"
	"fmt"
	"slices"
)

// Order describes a tool for a smith to make. The float of the tool is always adjustable, because it sets the working
// depth.
type Order struct {
	WidthFromCM, WidthToCM float64 // range of the working width; both are equal unless Adjustable is true
	Adjustable             bool
	SmallestRowCM          float64 // narrowest rows for this tool
	LargestRowCM           float64 // widest rows for this tool
	// WideTeeth asks for teeth far apart: heavy clay sticks between narrow teeth (common practice, no source).
	WideTeeth                bool
	HandleFromCM, HandleToCM float64 // height of the handle above the ground; see Handle
	HandleAdjustable         bool
}

// Tool returns the tool that is made to this order.
func (o Order) Tool() Tool {
	t := Tool{WidthCM: o.WidthFromCM}
	if o.Adjustable {
		t.MaxWidthCM = o.WidthToCM
	}
	return t
}

// ErrNoRows is the error of OrderOf without row spacings: the width of the tool is computed from them.
var ErrNoRows = errors.New("engine: no row spacing is told, and the tool's width follows from it")

// OrderOf returns the order for a tool, given row spacings in cm, the soil, and the statures in cm of the people who
// push it (none = usual statures). The tool leaves SideClearanceCM free on each side in the narrowest rows. It is
// adjustable if a tool of that width leaves too wide a strip in the widest rows. It is never wider than WidestPushedCM.
// The error is ErrNoRows, or says which number is outside its limits.
func OrderOf(rowsCM []float64, soil Soil, staturesCM []float64) (Order, error) {
	if len(rowsCM) == 0 {
		return Order{}, ErrNoRows
	}
	narrow, wide := slices.Min(rowsCM), slices.Max(rowsCM)
	for _, row := range rowsCM {
		if !(row >= MinSpacingCM && row <= MaxSpacingCM) {
			return Order{}, fmt.Errorf("engine: row spacing %g cm is not between %d and %d", row, MinSpacingCM,
				MaxSpacingCM)
		}
	}
	for _, stature := range staturesCM {
		if !(stature >= MinStatureCM && stature <= MaxStatureCM) {
			return Order{}, fmt.Errorf("engine: a height of %g cm is not between %d and %d", stature, MinStatureCM,
				MaxStatureCM)
		}
	}
	from, to := narrow-2*SideClearanceCM, wide-2*SideClearanceCM
	if from < NarrowestMadeCM {
		return Order{}, fmt.Errorf("engine: rows of %g cm leave %g cm for a tool, and none under %d cm is of use: "+
			"plant wider rows", narrow, from, NarrowestMadeCM)
	}
	from, to = min(from, WidestPushedCM), min(to, WidestPushedCM)
	if wide <= from+2*LooseClearanceCM {
		to = from
	}
	handle := HandleFor(staturesCM)
	return Order{
		WidthFromCM: from, WidthToCM: to, Adjustable: to > from,
		SmallestRowCM: from + 2*SideClearanceCM, LargestRowCM: to + 2*LooseClearanceCM,
		WideTeeth:    soil == SoilHeavy,
		HandleFromCM: handle.FromCM, HandleToCM: handle.ToCM, HandleAdjustable: handle.Adjustable,
	}, nil
}

// Trouble is a problem that a grower has with a tool, in the field or when trying it out.
type Trouble uint8

const (
	Sinks         Trouble = iota + 1 // the tool sinks in and is hard to push
	Clogs                            // mud or weeds stick between the teeth
	RidesOver                        // the tool rolls over the weeds and leaves them standing
	DamagesPlants                    // the tool tears or buries rice plants
)

func (t Trouble) String() string {
	return name(t, "", "sinks", "clogs", "rides over", "damages plants")
}

// Troubles returns all troubles in the order of the help screen.
func Troubles() []Trouble { return []Trouble{Sinks, Clogs, RidesOver, DamagesPlants} }

// Cure is one thing to adjust or to do about a Trouble.
type Cure uint8

const (
	LowerFloat    Cure = iota + 1 // lower the float so that the teeth work less deep
	RaiseFloat                    // raise the float so that the teeth work deeper
	LowerHandle                   // hold or set the handle lower, so that the person pushes more forward and less down
	RaiseHandle                   // hold or set the handle higher, so that there is more weight on the teeth
	LetMudSettle                  // wait a day or two until the puddled mud is firm enough to carry the tool
	DeepenWater                   // let in water until it is 5 cm deep
	CleanTeeth                    // lift the tool by its handle and wash the teeth at the end of the row
	WidenTeeth                    // set the teeth farther apart, as is done for heavy clay
	PushAndPull                   // push and pull the tool over the same place in short strokes
	NarrowTool                    // set the tool narrower, so that 2.5 cm are free on each side
	GoSlower                      // go slower and keep to the middle of the row
	PullWeeds                     // the weeds are too big for the tool: pull them by hand
	StopWithPlant                 // the plants are too big for the tool: no more passes
)

func (c Cure) String() string {
	return name(c, "", "lower the float", "raise the float", "lower the handle", "raise the handle",
		"let the mud settle", "deepen the water", "clean the teeth", "widen the teeth", "push and pull",
		"narrow the tool", "go slower", "pull by hand", "stop")
}

// Cures returns what to try against a trouble, the cure with the least work first (common practice, no source).
func Cures(t Trouble) []Cure {
	switch t {
	case Sinks:
		return []Cure{LowerFloat, LowerHandle, LetMudSettle}
	case Clogs:
		return []Cure{CleanTeeth, DeepenWater, WidenTeeth}
	case RidesOver:
		return []Cure{PushAndPull, RaiseFloat, RaiseHandle, DeepenWater, PullWeeds}
	case DamagesPlants:
		return []Cure{GoSlower, NarrowTool, LowerFloat, StopWithPlant}
	}
	return nil
}
