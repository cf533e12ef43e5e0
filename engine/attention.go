package engine

import (
	"fmt"
	"math/bits"
	"strings"
)

// Reason is why staff should call or visit the grower of a plot.
type Reason uint8

const (
	NeedsLastDays   Reason = iota // the window is in its last days and the plot is not weeded
	NeedsPulling                  // the window was missed: the weeds are too big for the tool and must be pulled
	NeedsStart                    // the window opens today or tomorrow
	NeedsTool                     // a window for the tool is near and the grower has no tool
	NeedsWater                    // a pass is due and the grower said that the ground has no water
	NeedsRepair                   // the grower has trouble with the tool, for example that it clogs
	NeedsAnswer                   // the grower was asked about the next window and did not answer
	NeedsLook                     // what the grower saw is far from what the clocks expect
	NeedsSignOfLife               // a window is near and the grower was not heard of for long

	endOfReasons // one past the last reason
)

var reasonNames = [...]string{"last days", "missed", "opens", "no tool", "no water", "tool trouble", "no answer",
	"look disagrees", "silent"}

// If a reason has no name, the package does not compile.
var _ [endOfReasons]string = reasonNames

func (r Reason) String() string {
	if r < endOfReasons {
		return reasonNames[r]
	}
	return fmt.Sprintf("%d?", uint8(r))
}

// ParseReason returns the reason with this name; false if there is none.
func ParseReason(name string) (Reason, bool) {
	for _, r := range AllReasons.List() {
		if reasonNames[r] == name {
			return r, true
		}
	}
	return 0, false
}

// Reasons is a set of reasons; bit 1<<r is set if it has the reason r.
type Reasons uint16

// AllReasons has every reason.
const AllReasons Reasons = 1<<endOfReasons - 1

// Has reports whether the set has a reason.
func (s Reasons) Has(r Reason) bool { return s&r.bit() != 0 }

// List returns the reasons of the set, the most pressing first.
func (s Reasons) List() []Reason {
	list := make([]Reason, 0, bits.OnesCount16(uint16(s)))
	for r := Reason(0); r < endOfReasons; r++ {
		if s.Has(r) {
			list = append(list, r)
		}
	}
	return list
}

// String returns the names of the reasons, with commas between them.
func (s Reasons) String() string {
	var names []string
	for _, r := range s.List() {
		names = append(names, r.String())
	}
	return strings.Join(names, ", ")
}

func (r Reason) bit() Reasons { return 1 << r }

// Heard is what is known about a plot besides its season: what its grower was told and said, and what staff did.
type Heard struct {
	Told      []Told  // reminders about the plot, in order of day
	On        Day     // last day on which the grower used the phone; 0 = not known
	Trouble   Trouble // what the grower last said of the tool; 0 = nothing
	TroubleOn Day
	Reached   []Reached // when staff reached the grower about the plot
	TriedOn   Day       // last day on which staff could not reach the grower; 0 = never, or reached since
}

// Reached is a conversation of staff with the grower about a plot.
type Reached struct {
	On      Day
	Window  int // Window.Number of the window that was next
	Reasons Reasons
}

// Attention is what staff should know of a plot on a day. Without Reasons the plot needs no call and no visit.
type Attention struct {
	Full
	Reasons Reasons
	// Score is what a visit can still save, in % of the harvest of the plot. It orders plots, the highest first, and
	// does not predict the yield; see Risk.
	Score     float64
	Later     bool    // staff could not reach the grower today, so others come first
	Trouble   Trouble // if Reasons has NeedsRepair
	AskedOn   Day     // if Reasons has NeedsAnswer: the day of the question
	Saw       Leaves  // if Reasons has NeedsLook: the answer that disagrees
	SawOn     Day
	HeardOn   Day     // Heard.On
	WithoutMM float64 // if Reasons has NeedsWater: the depth of water to let in
}

// Attention returns the full plan of the season on day today, and why staff should call or visit the grower. It returns
// an error only if Validate does.
//
// A plot that is closed, or has no further window, needs nobody. What staff talked about with the grower is no reason
// for AttentionDays days, as long as the same window is next.
//
// The score is the middle loss of Risk, times leaves / WindowOpensLeaves up to the last leaf that the tool can weed,
// for the part of the plot that is not weeded. Of a missed window a visit saves MissedSaves of that, because pulling by
// hand is often not done. After the critical period it is 0.
func (s Season) Attention(today Day, h Heard) (Attention, error) {
	f, err := s.Full(today)
	if err != nil {
		return Attention{}, err
	}
	a := Attention{Full: f, HeardOn: h.On, Later: h.TriedOn == today}
	if f.State == Closed || !f.Next.Exists() {
		return a, nil
	}
	a.Score = f.saves()
	s = s.asOf(today)
	a.ofWindow()
	a.ofTool(&s, h)
	a.ofGrower(&s, h)
	for _, r := range h.Reached {
		if r.Window == f.Next.Number && r.On+AttentionDays > today {
			a.Reasons &^= r.Reasons
		}
	}
	return a, nil
}

// saves returns Attention.Score.
func (f *Full) saves() float64 {
	score := min(f.Risk.Score, f.Risk.middlePct*WindowClosesLeaves/WindowOpensLeaves) * (1 - f.Weeded)
	if f.State == Missed && f.Next.With == ByTool {
		score *= MissedSaves
	}
	return score
}

func (a *Attention) add(r Reason) { a.Reasons |= r.bit() }

// ofWindow adds the reasons that follow from the days of the window.
func (a *Attention) ofWindow() {
	switch {
	case a.State == LastDays:
		a.add(NeedsLastDays)
	case a.State == Missed && a.Risk.Score > 0:
		a.add(NeedsPulling)
	case a.Next.Opens == a.On, a.Next.Opens == a.On+1:
		a.add(NeedsStart)
	}
}

// isNear reports whether the window is open, or opens within a number of days.
func (a *Attention) isNear(days Day) bool { return a.State != Missed && a.Next.Opens <= a.On+days }

// ofTool adds the reasons why the grower may not be able to weed with the tool.
func (a *Attention) ofTool(s *Season, h Heard) {
	if a.Next.With != ByTool {
		return
	}
	if a.Fit.Verdict == FitUnknown && a.isNear(AttentionDays) {
		a.add(NeedsTool)
	}
	if a.isNear(PrepareDays) && a.Water.Advice(a.Next) == WaterBring && s.sawNoWater(a.On) {
		a.add(NeedsWater)
		a.WithoutMM = a.Water.BringMM
	}
	last, passed := s.lastPass()
	if h.Trouble != 0 && h.TroubleOn+AttentionDays > a.On && !(passed && last.With == ByTool && last.On > h.TroubleOn) {
		a.add(NeedsRepair)
		a.Trouble = h.Trouble
	}
}

// sawNoWater reports whether the grower's last word on the water, not older than WaterSeenDays days, was that the
// ground is dry or only wet.
func (s *Season) sawNoWater(today Day) bool {
	var last Sighting
	for x := range lastOfDay(s.Sightings, Sighting.ofWater) {
		last = x
	}
	return last.On+WaterSeenDays >= today && (last.Water == StandsDry || last.Water == StandsMud)
}

// ofGrower adds the reasons that follow from what the grower said or did not say.
func (a *Attention) ofGrower(s *Season, h Heard) {
	if on := a.unanswered(s, h); on != 0 {
		a.add(NeedsAnswer)
		a.AskedOn = on
	}
	if look, ok := s.lastLook(); ok && look.On+AttentionDays > a.On && s.chanceOf(look) < SurpriseChance {
		a.add(NeedsLook)
		a.Saw, a.SawOn = look.Leaves, look.On
	}
	if h.On != 0 && h.On+SilentDays <= a.On && a.isNear(AttentionDays) {
		a.add(NeedsSignOfLife)
	}
}

// unanswered returns the day of the last question about the next window, if UnansweredDays days have passed since and
// the grower has told nothing of the plot and has not used the phone; 0 otherwise.
func (a *Attention) unanswered(s *Season, h Heard) (on Day) {
	for _, t := range h.Told {
		if asked := (Reminder{Kind: t.Kind, Window: a.Next, On: t.On}); asked.Asks() && a.ofNext(t) && t.On <= a.On {
			on = t.On
		}
	}
	if on == 0 || on+UnansweredDays > a.On || h.On >= on {
		return 0
	}
	if last, passed := s.lastPass(); passed && last.On >= on {
		return 0
	}
	if n := len(s.Sightings); n > 0 && s.Sightings[n-1].On >= on {
		return 0
	}
	return on
}

// lastLook returns the last leaf count since the last pass.
func (s *Season) lastLook() (look Sighting, ok bool) {
	for x := range lastOfDay(s.freshSightings(), Sighting.ofLeaves) {
		look, ok = x, true
	}
	return look, ok
}

// chanceOf returns the chance of a leaf count as it was expected before that day.
func (s *Season) chanceOf(look Sighting) float64 {
	before := *s
	n := 0
	for n < len(before.Sightings) && before.Sightings[n].On < look.On {
		n++
	}
	before.Sightings = before.Sightings[:n]
	return before.weeds().multiply(look.On, &lookChances[look.Leaves])
}
