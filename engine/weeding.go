package engine

// Fell says where the day of a weeding lies, seen from the window that the engine planned on the day before it.
type Fell uint8

const (
	FellInside   Fell = iota + 1 // in the window
	FellEarly                    // before the window
	FellLate                     // after the window, when the weeds were too big for the tool
	FellNoWindow                 // no window was to come: the tool can no longer be used
	FellBehind                   // by hand, within FollowUpDays of a pass with the tool: what the tool left was pulled
)

func (f Fell) String() string { return name(f, "", "inside", "early", "late", "no window", "behind") }

// Weeding is one weeding of a plot as reports count it. The parts of a plot that were weeded in one window are one
// weeding, on the day of the last part.
type Weeding struct {
	On   Day
	With Means
	Fell Fell
	// HoursPerHa is the person-hours per hectare of weeded ground for one run over it. A pass along and across the rows
	// is two runs, because published hours are those of one. 0 = hours, people or area are not given.
	HoursPerHa float64
}

// Weedings returns the weedings that were logged up to day today, in order of day. A weeding is FellInside exactly if
// Summary counts it in InWindow, unless it is FellBehind. It returns an error only if Validate does.
func (s Season) Weedings(today Day) ([]Weeding, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	s = s.asOf(today)
	passes := s.allWeedings()
	list := make([]Weeding, len(passes))
	for i, p := range passes {
		list[i] = Weeding{On: p.On, With: p.With, HoursPerHa: p.hoursPerHa(s.Plot.AreaM2)}
		if p.With == ByHand && pulledBehind(passes, i) {
			list[i].Fell = FellBehind
		} else {
			list[i].Fell = s.fell(p)
		}
	}
	return list, nil
}

// hoursPerHa returns Weeding.HoursPerHa of a pass on a plot of this area.
func (p Pass) hoursPerHa(areaM2 float64) float64 {
	worked := p.hoursOfAll()
	if worked == 0 || areaM2 <= 0 {
		return 0
	}
	runs := 1.0
	if p.With == ByTool && p.Way == Both {
		runs = 2
	}
	return worked / (p.covered() * areaM2 / 1e4) / runs
}

// fell compares the day of a pass with the window that the engine planned on the day before. A pass with the tool
// earlier than FirstPassDays after planting is always early.
func (s Season) fell(p Pass) Fell {
	if p.With == ByTool && p.On < s.Plot.Planted+FirstPassDays {
		return FellEarly
	}
	switch w := s.plannedBefore(p.On); {
	case w.Contains(p.On):
		return FellInside
	case !w.Exists():
		return FellNoWindow
	case p.On < w.Opens:
		return FellEarly
	}
	return FellLate
}

// plannedBefore returns the window that the engine planned on the day before d, as if none was announced and the plot
// was not closed.
func (s Season) plannedBefore(d Day) Window {
	s.ClosedOn, s.Announced, s.Passes, s.joined = 0, Window{}, s.logged(), nil
	before := s.asOf(d - 1)
	return before.outline(d - 1).Next
}

// PublishedHours is how many person-hours per hectare a publication gives for weeding once.
type PublishedHours struct {
	Name      string // what was measured, and where
	With      Means
	Low, High float64 // h/ha; equal if the publication has one number
	Source    string
}

// AllPublishedHours returns the published hours, those with the tool first.
func AllPublishedHours() []PublishedHours {
	return []PublishedHours{
		{"three cone weeders, India", ByTool, 1 / ConeFastHaH, 1 / ConeSlowHaH, shirsat},
		{"rotary and cone weeders, Burkina Faso", ByTool, 1 / SahelFastHaH, 1 / SahelSlowHaH, zongo},
		{"mechanical weeding, IRRI", ByTool, IRRIDaysLow * IRRIDayHours, IRRIDaysHigh * IRRIDayHours, irriMechanical},
		{"by hand, Sri Lanka", ByHand, HandHoursPerHa, HandHoursPerHa, handSriLanka},
	}
}
