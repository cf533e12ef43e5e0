package simulate

import (
	"fmt"
	"math/rand/v2"

	"rowbell/engine"
)

// Growers describes how growers behave. Shares and chances are numbers from 0 to 1. All numbers were chosen for this
// simulation; no survey supports them.
type Growers struct {
	Heeds     float64 // share of growers who weed on the day that the service names; the others weed by habit
	Reads     float64 // chance that a text is read on its day
	Acts      float64 // chance that a grower weeds when a day for it has come; else the grower lets it pass
	DelayDays float64 // mean number of days from that day to the weeding; a uniform draw from 0 to twice the mean
	Looks     float64 // chance that a grower who reads a question about the leaves looks and answers
	Misreads  float64 // standard deviation of the error in the leaf count, in leaves
	OnlyBig   float64 // share of growers who answer about leaves only if the weeds are too big
	Answers   float64 // chance that a grower reports a pass on its day; the same chance again after each text that asks
	Lies      float64 // chance of a false answer to a text that asks; a grower may lie to be left in peace
}

// Usual returns the default growers: many look and answer, many forget, and a few lie.
func Usual() Growers {
	return Growers{Heeds: 0.7, Reads: 0.8, Acts: 0.7, DelayDays: 1, Looks: 0.5, Misreads: 0.5, OnlyBig: 0.1,
		Answers: 0.7, Lies: 0.03}
}

// Honest returns growers who never lie. Most of them look, answer and weed.
func Honest() Growers {
	return Growers{Heeds: 0.9, Reads: 0.9, Acts: 0.8, DelayDays: 0.5, Looks: 0.9, Misreads: 0.5, Answers: 0.9}
}

// Sloppy returns growers who never lie, but often miss a text, count badly and weed late.
func Sloppy() Growers {
	return Growers{Heeds: 0.6, Reads: 0.6, Acts: 0.5, DelayDays: 2, Looks: 0.3, Misreads: 0.8, OnlyBig: 0.2,
		Answers: 0.5}
}

// Lying returns growers who answer one text in five with a lie. In all other numbers they are like Usual.
func Lying() Growers {
	g := Usual()
	g.Lies = 0.2
	return g
}

// Blind returns growers who never look at the weeds. In all other numbers they are like Usual.
func Blind() Growers {
	g := Usual()
	g.Looks = 0
	return g
}

// kindsOfGrowers lists the growers by name. The first ones are the default.
var kindsOfGrowers = []struct {
	name string
	of   func() Growers
}{{"usual", Usual}, {"honest", Honest}, {"sloppy", Sloppy}, {"lying", Lying}, {"blind", Blind}}

// KindsOfGrowers returns the names of the growers.
func KindsOfGrowers() []string {
	var names []string
	for _, g := range kindsOfGrowers {
		names = append(names, g.name)
	}
	return names
}

// GrowersNamed returns the growers with this name; false if the name is unknown.
func GrowersNamed(name string) (Growers, bool) {
	for _, g := range kindsOfGrowers {
		if g.name == name {
			return g.of(), true
		}
	}
	return Growers{}, false
}

// Limits of Growers.
const (
	MaxDelayDays = 30
	MaxMisreads  = 4 // in leaves; with a larger error a leaf count contains no information
)

func (g Growers) validate() error {
	for _, x := range []struct {
		name  string
		value float64
		most  float64
	}{
		{"heeds", g.Heeds, 1}, {"reads", g.Reads, 1}, {"acts", g.Acts, 1}, {"delay", g.DelayDays, MaxDelayDays},
		{"looks", g.Looks, 1}, {"misreads", g.Misreads, MaxMisreads}, {"only big", g.OnlyBig, 1},
		{"answers", g.Answers, 1}, {"lies", g.Lies, 1},
	} {
		if !(x.value >= 0 && x.value <= x.most) {
			return fmt.Errorf("simulate: %s %g is not between 0 and %g", x.name, x.value, x.most)
		}
	}
	return nil
}

// see returns the leaf count that a grower tells whose weeds have this number of leaves.
func see(leaves, misreads float64, r *rand.Rand) engine.Leaves {
	switch seen := leaves + misreads*r.NormFloat64(); {
	case seen < 0.5:
		return engine.NoneUp
	case seen < 1.5:
		return engine.OneLeaf
	case seen < 3.5:
		return engine.TwoThree
	}
	return engine.FourPlus
}

// Habit is the range of days on which growers weed without the service, each grower on a day of it: days after
// planting for the first pass, days after the last pass for the next.
type Habit struct{ From, To int }

// DefaultHabit is common practice, no source.
var DefaultHabit = Habit{14, 21}

// MaxHabit is the latest day of a habit.
const MaxHabit = 60

func (h Habit) String() string {
	if h.From == h.To {
		return fmt.Sprint(h.From)
	}
	return fmt.Sprintf("%d-%d", h.From, h.To)
}

// ParseHabit reads a day or a range of days, such as 21 or 14-21.
func ParseHabit(s string) (Habit, error) {
	var h Habit
	if n, err := fmt.Sscanf(s, "%d-%d", &h.From, &h.To); err != nil && n == 1 {
		h.To = h.From
	}
	if h.String() != s || !h.valid() {
		return Habit{}, fmt.Errorf("simulate: habit %q is not a day or a range of days such as 14-21, at most %d", s,
			MaxHabit)
	}
	return h, nil
}

func (h Habit) valid() bool { return 1 <= h.From && h.From <= h.To && h.To <= MaxHabit }

func (h Habit) draw(r *rand.Rand) engine.Day { return engine.Day(h.From + r.IntN(h.To-h.From+1)) }

// Chances that a pass leaves few weeds, or some weeds; otherwise it leaves many. They differ between a pass on weeds of
// the right size and other passes. All numbers were chosen for this simulation.
const (
	inTimeLeavesFew, inTimeLeavesSome = 0.60, 0.30
	lateLeavesFew, lateLeavesSome     = 0.40, 0.35
	liesSayingWeeded                  = 0.5 // share of lies that say "weeded"; the others say "weeds too big"
	againDays                         = 7   // a grower who lets a day pass tries again so many days later
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
	g := o.Growers
	return []Assumption{
		{"seed", float64(o.Seed), "1", "start of the random numbers"},
		{"plots", float64(o.Plots), "plots", "transplanted in lines, with a tool that fits"},
		{"spread", float64(o.Spread), "d", "days over which they are planted"},
		{"days measured", float64(len(o.Weather.Daily.Days)), "d", "of the weather; other days are the normals"},
		{"measured", measured, "1", "1: the service gets the measured days once a week; 0: only the normals"},
		{"true rate", o.Rate, "1", "how fast the weeds of the place grow, relative to their clock"},
		{"believed rate", o.Place.WeedRate, "1", "the same, as the service assumes it in the first season"},
		{"scatter of rates", o.Scatter, "1", "standard deviation of the logarithm of the rates of the plots"},
		{"scatter of starts", startScatter, "d", "standard deviation of the days by which weeds are late"},
		{"habit, from", float64(o.Habit.From), "d",
			"after planting or the last pass: the pass of a grower without the bell"},
		{"habit, to", float64(o.Habit.To), "d", "the same, at the latest; each grower draws a day"},
		{"heeds", g.Heeds, "1", "share of growers who weed on the day that the service names"},
		{"reads", g.Reads, "1", "chance that a text is read on its day"},
		{"acts", g.Acts, "1", "chance that a grower weeds when the day has come, with the bell or without it"},
		{"delay", g.DelayDays, "d", "mean days from that day to the weeding"},
		{"tries again", againDays, "d", "later, if the grower let the day pass and no text came"},
		{"looks", g.Looks, "1", "chance that a grower who reads a question about leaves looks and answers"},
		{"misreads", g.Misreads, "leaves", "standard deviation of the leaf count"},
		{"only big", g.OnlyBig, "1", "share of growers who answer it only if the weeds are too big"},
		{"answers", g.Answers, "1", "chance that a pass is reported on its day, and again at each text that asks"},
		{"lies", g.Lies, "1", "chance that a text that asks is answered with a lie"},
		{"lies saying weeded", liesSayingWeeded, "1", "of lies; the others say that the weeds are too big"},
		{"few left in time", inTimeLeavesFew, "1", "chance that a pass in time leaves few weeds"},
		{"some left in time", inTimeLeavesSome, "1", "chance that it leaves some; else many"},
		{"few left late", lateLeavesFew, "1", "chance that a pass out of time leaves few weeds"},
		{"some left late", lateLeavesSome, "1", "chance that it leaves some; else many"},
	}
}
