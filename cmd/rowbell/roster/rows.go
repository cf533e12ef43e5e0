package roster

import (
	"slices"
	"strings"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/answer"
)

// The methods in this file read one kind of row each.

func (s *sheetReader) plot(f fields) {
	p := Plot{Name: f.name("name")}
	p.Missed, p.Need = f.whole("missed", 0, circle.MaxMissed), f.whole("days", 1, circle.MaxNeed)
	g := &p.Ground
	g.Label = p.Name
	g.Planted = f.day("planted", answer.PlantedReach)
	g.Method = engine.Transplanted
	if f.fields["method"] != "" {
		methods := []engine.Method{engine.Transplanted, engine.RowSown, engine.Broadcast}
		g.Method = oneOf(f, "method", []string{"transplanted", "row-sown", "broadcast"}, methods)
	}
	g.Flood = oneOf(f, "water", []string{"kept", "on-off", "moist"},
		[]engine.Flood{engine.FloodKept, engine.FloodOnOff, engine.FloodMoist})
	g.RowSpacingCM = f.number("row_cm", engine.MinSpacingCM, engine.MaxSpacingCM)
	g.HillSpacingCM = f.number("hill_cm", engine.MinSpacingCM, engine.MaxSpacingCM)
	g.AreaM2 = f.area("area_m2")
	p.Until = f.day("until", rosterReach)
	if f.fields["from"] != "" || f.fields["to"] != "" {
		p.Window = f.days()
	}
	switch has := func(column string) bool { return f.fields[column] != "" }; {
	case has("from") != has("to"):
		f.mistake("a window that is given has both its first day in from and its last day in to")
	case !has("planted") && !has("from"):
		f.mistake("write the day of planting in planted, or the days of the window in from and to")
	case has("until") && !has("from"):
		f.mistake("until goes with a window that is given in from and to")
	case p.Until != 0 && p.Until < p.Window.To:
		f.mistake("until %s is before the end of the window, %s", p.Until, p.Window.To)
	case p.Until > p.Window.To+circle.MaxLate:
		f.mistake("until %s is more than %d days after the end of the window", p.Until, circle.MaxLate)
	case !has("row_cm") && g.Method != engine.Broadcast:
		f.mistake("row_cm is needed: the distance between rows in cm")
	case !has("area_m2") && !has("days"):
		f.mistake("area_m2 is needed: square metres, or length by width as in 20x30; or the tool-days of the pass " +
			"in days")
	}
	p.Household = s.household(f, p.Name)
	if len(s.Plots) == circle.MaxPlots {
		f.mistake("a roster has at most %d plots", circle.MaxPlots)
	}
	if f.wrong() {
		return
	}
	s.Plots, s.asked = append(s.Plots, p), append(s.asked, f.place)
}

// household returns the index of the household that the row of a plot names, or else of one with the plot's name.
func (s *sheetReader) household(f fields, plot string) int {
	name := f.name("household")
	if name == "" {
		name = plot
	}
	h := slices.IndexFunc(s.Households, func(h Household) bool { return key(h.Name) == key(name) })
	if h < 0 {
		h, s.Households = len(s.Households), append(s.Households, Household{Name: name})
	}
	is := &s.Households[h]
	hands, hours := f.whole("hands", 1, circle.MaxHands), f.number("hours", 0.5, engine.MaxHoursADay)
	switch {
	case hands != 0 && is.Hands != 0 && hands != is.Hands:
		f.mistake("the household %s has %d hands on another row, and %d here; write the same", name, is.Hands, hands)
	case hours != 0 && is.Hours != 0 && hours != is.Hours:
		f.mistake("the household %s has %g hours on another row, and %g here; write the same", name, is.Hours, hours)
	}
	is.Hands, is.Hours = max(is.Hands, hands), max(is.Hours, hours)
	return h
}

func (s *sheetReader) tool(f fields) {
	t := Tool{Name: f.name("name"), Width: f.width("width_cm")}
	if len(s.Tools) == circle.MaxTools {
		f.mistake("a roster has at most %d tools", circle.MaxTools)
	}
	if !f.wrong() {
		s.Tools = append(s.Tools, t)
	}
}

func (s *sheetReader) out(f fields) {
	tool, ok := s.toolNamed(f, "name")
	days := f.days()
	if ok && len(s.Tools[tool].Out) == circle.MaxOut {
		f.mistake("a tool has at most %d rows out; join their days", circle.MaxOut)
	}
	if ok && !f.wrong() {
		s.Tools[tool].Out = append(s.Tools[tool].Out, days)
	}
}

// rest reads days on which a household has other hands. The name may also be that of one of its plots.
func (s *sheetReader) rest(f fields) {
	name := f.name("name")
	h := slices.IndexFunc(s.Households, func(h Household) bool { return key(h.Name) == key(name) })
	if p := s.findPlot(name); h < 0 && p >= 0 {
		h = s.Plots[p].Household
	}
	ok := h >= 0 || s.unknown(f, "plot", "name")
	other := OtherHands{Days: f.days(), Hands: f.whole("hands", 0, circle.MaxHands)}
	if ok && !f.wrong() {
		s.Households[h].Other = append(s.Households[h].Other, other)
	}
}

// toolDay is a tool on a day.
type toolDay struct {
	tool int
	day  engine.Day
}

// turn reads days for which the grower of a plot was told a tool.
func (s *sheetReader) turn(f fields) {
	plot, okPlot := s.plotNamed(f)
	tool, okTool := s.toolNamed(f, "tool")
	days := f.days()
	if !okPlot || !okTool || f.wrong() {
		return
	}
	p := &s.Plots[plot]
	for d := days.From; d <= days.To; d++ {
		switch other, ok := s.told[toolDay{tool, d}]; {
		case ok && other != plot:
			f.mistake("%s was told to %s, too, on %s", s.Tools[tool].Name, s.Plots[other].Name, d)
			return
		case !ok:
			s.told[toolDay{tool, d}] = plot
			p.Told = append(p.Told, Told{d, tool})
		}
	}
}

// weeded reads a weeding that was done. Its note is that of the flag --pass of rowbell plan.
func (s *sheetReader) weeded(f fields) {
	plot, ok := s.plotNamed(f)
	on := f.day("from", answer.WeededReach)
	if !ok || f.wrong() {
		return
	}
	pass, err := plan.ParsePass(record(on, f.fields["note"]))
	if err != nil {
		f.mistake("note: %s", reasonOf(err))
		return
	}
	s.Plots[plot].Passes = append(s.Plots[plot].Passes, pass)
}

// saw reads what was seen on a day. Its note is that of the flag --saw of rowbell plan.
func (s *sheetReader) saw(f fields) {
	plot, ok := s.plotNamed(f)
	on := f.day("from", answer.WeededReach)
	if !ok || f.wrong() {
		return
	}
	seen, err := plan.ParseSighting(record(on, f.fields["note"]))
	if err != nil {
		f.mistake("note: %s", reasonOf(err))
		return
	}
	s.Plots[plot].Sightings = append(s.Plots[plot].Sightings, seen)
}

// record writes a day and a note as a flag of rowbell plan has them.
func record(on engine.Day, note string) string {
	if note == "" {
		return on.String()
	}
	return on.String() + ":" + strings.ReplaceAll(strings.ToLower(note), " ", ":")
}

// reasonOf returns the reason in an error about a flag, without the flag and its value.
func reasonOf(err error) string {
	if _, reason, ok := strings.Cut(err.Error(), `": `); ok {
		return reason
	}
	return err.Error()
}

func (s *sheetReader) findPlot(name string) int {
	return slices.IndexFunc(s.Plots, func(p Plot) bool { return key(p.Name) == key(name) })
}

// plotNamed returns the plot that the row is about; false if there is none.
func (s *sheetReader) plotNamed(f fields) (int, bool) {
	p := s.findPlot(f.name("name"))
	return p, p >= 0 || s.unknown(f, "plot", "name")
}

// toolNamed returns the tool that a column names; false if there is none.
func (s *sheetReader) toolNamed(f fields, column string) (int, bool) {
	name := f.name(column)
	t := slices.IndexFunc(s.Tools, func(t Tool) bool { return key(t.Name) == key(name) })
	return t, t >= 0 || s.unknown(f, "tool", column)
}

// unknown notes that no row is about the plot or tool that a column names, unless that row has mistakes itself.
func (s *sheetReader) unknown(f fields, kind, column string) bool {
	name := f.name(column)
	if _, ok := s.named[kind+" "+key(name)]; !ok {
		f.mistake("there is no %s %s; write a row for it, or correct the name", kind, quote(name))
	}
	return false
}
