package simulate

import "fmt"

// Nature describes how growers behave. Shares and chances are numbers from 0 to 1. All numbers of a Nature were chosen
// for this simulation; no survey supports them.
type Nature struct {
	Heeds     float64 // share of growers who wait for a text before they weed; the others weed by habit
	Acts      float64 // chance that a grower who waits for texts weeds after the text on the window's first day
	ActsLater float64 // chance that a grower who waits for texts weeds after a later text
	DelayDays float64 // mean number of days from the decision to the weeding; a uniform draw from 0 to twice the mean
	Looks     float64 // chance that a grower who is asked to look at the leaves does so and tells the service
	Misreads  float64 // standard deviation of the error in the leaf count, in leaves
	Answers   float64 // chance that a grower reports a pass on its day; the same chance again after each text that asks
	Lies      float64 // chance of a false answer to a text that asks; a grower may lie to be left in peace
}

// Usual returns the default nature: many growers answer, many forget to answer, and a few lie.
func Usual() Nature {
	return Nature{Heeds: 0.7, Acts: 0.5, ActsLater: 0.4, DelayDays: 1.5, Looks: 0.3, Misreads: 0.5, Answers: 0.7,
		Lies: 0.03}
}

// Honest returns growers who never lie. Most of them answer and weed.
func Honest() Nature {
	return Nature{Heeds: 0.8, Acts: 0.6, ActsLater: 0.5, DelayDays: 1, Looks: 0.5, Misreads: 0.4, Answers: 0.9}
}

// Sloppy returns growers who never lie, but often forget to answer, count badly and weed late.
func Sloppy() Nature {
	return Nature{Heeds: 0.6, Acts: 0.4, ActsLater: 0.4, DelayDays: 3, Looks: 0.3, Misreads: 0.8, Answers: 0.5}
}

// Lying returns growers who answer one text in five with a lie. In all other numbers they are like Usual.
func Lying() Nature {
	n := Usual()
	n.Lies = 0.2
	return n
}

// Limits of a Nature.
const (
	MaxDelayDays = 30
	MaxMisreads  = 4 // in leaves; with a larger error a leaf count contains no information
)

func (n Nature) validate() error {
	for _, x := range []struct {
		name  string
		value float64
		most  float64
	}{
		{"heeds", n.Heeds, 1}, {"acts", n.Acts, 1}, {"acts later", n.ActsLater, 1}, {"looks", n.Looks, 1},
		{"answers", n.Answers, 1},
		{"lies", n.Lies, 1}, {"delay", n.DelayDays, MaxDelayDays}, {"misreads", n.Misreads, MaxMisreads},
	} {
		if !(x.value >= 0 && x.value <= x.most) {
			return fmt.Errorf("simulate: %s %g is not between 0 and %g", x.name, x.value, x.most)
		}
	}
	return nil
}

// Habits of growers without the bell, and of growers who do not wait for texts. The first pass is 14 to 21 days after
// transplanting, and each next pass is 14 to 21 days after the pass before (common practice, no source).
var (
	habitFirst = between{14, 21} // days after planting
	habitAgain = between{14, 21} // days after a pass
)

// Chances that a pass leaves few weeds, or some weeds; otherwise it leaves many. The chances differ between a pass in
// the window and a pass outside. patienceDays is for how many days a grower who waits for texts delays a pass that is
// due by habit. All numbers were chosen for this simulation.
const (
	inTimeLeavesFew, inTimeLeavesSome = 0.60, 0.30
	lateLeavesFew, lateLeavesSome     = 0.40, 0.35
	patienceDays                      = 7
	liesSayingWeeded                  = 0.5 // share of lies that say "weeded"; the others say "weeds too big"
)

// Assumption is one number on which the result of a simulation depends.
type Assumption struct {
	Name    string
	Value   float64
	Unit    string // "1" if the value is a share, a chance or a number without unit
	Meaning string
}

func (o *Options) assumptions() []Assumption {
	measured := 0.0
	if o.Measured {
		measured = 1
	}
	n := o.Nature
	return []Assumption{
		{"seed", float64(o.Seed), "1", "where chance begins"},
		{"plots", float64(o.Plots), "plots", "line-planted by transplanting, kept under water, a tool that fits"},
		{"spread", float64(o.Spread), "d", "over which they are planted"},
		{"days measured", float64(len(o.Weather.Daily.Days)), "d",
			"of the weather that was; other days are the normals'"},
		{"measured", measured, "1", "1: the service has the days past as measured; 0: only the normals"},
		{"true rate", o.TrueRate, "1", "how fast weeds go, to the table's clock"},
		{"believed rate", o.Place.WeedRate, "1", "how fast the service takes them to go"},
		{"scatter", o.Scatter, "1", "by which plots differ in it (standard deviation of the logarithm)"},
		{"heeds", n.Heeds, "1", "share of growers who wait for the bell"},
		{"acts", n.Acts, "1", "chance that the text at the opening gets such a grower to weed"},
		{"acts later", n.ActsLater, "1", "chance for each text after it"},
		{"delay", n.DelayDays, "d", "mean days from deciding to weeding"},
		{"looks", n.Looks, "1", "chance that a grower looks at the leaves when asked, and tells"},
		{"misreads", n.Misreads, "leaves", "standard deviation of reading them"},
		{"answers", n.Answers, "1", "chance that a pass is told on its day, and again at each text that asks"},
		{"lies", n.Lies, "1", "chance that a text that asks is answered with a lie"},
		{"lies saying weeded", liesSayingWeeded, "1", "of lies; the others say that weeds are too big"},
		{"habit first, from", float64(habitFirst.From), "d",
			"after planting, the first pass of growers left to themselves"},
		{"habit first, to", float64(habitFirst.To), "d",
			"after planting, at the latest; each grower has a day of these"},
		{"habit again, from", float64(habitAgain.From), "d", "after a pass, their next"},
		{"habit again, to", float64(habitAgain.To), "d", "after a pass, at the latest"},
		{"patience", patienceDays, "d", "for which one who heeds the bell lets the habit wait"},
		{"few left in time", inTimeLeavesFew, "1", "chance that a pass in time leaves few weeds"},
		{"some left in time", inTimeLeavesSome, "1", "chance that it leaves some; else many"},
		{"few left late", lateLeavesFew, "1", "chance that a pass out of time leaves few weeds"},
		{"some left late", lateLeavesSome, "1", "chance that it leaves some; else many"},
	}
}
