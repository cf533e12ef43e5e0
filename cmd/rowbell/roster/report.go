package roster

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
)

// Table writes the report for people.
func (r *Report) Table(w io.Writer) error { return plan.Table(w, r.sections()...) }

// JSON writes the report for programs. The names of members do not change between versions, and the name of a number
// ends with its unit. Days are YYYY-MM-DD. What is not known is left out.
func (r *Report) JSON(w io.Writer) error {
	var all plan.Object
	for _, s := range r.sections() {
		all = append(all, s.Object...)
	}
	return plan.JSON(w, all)
}

func (r *Report) sections() []plan.Section {
	return []plan.Section{r.sums(), r.days(), r.plots(), r.unserved(), r.helps(), r.left(), r.explain()}
}

// sums says how good the roster is.
func (r *Report) sums() (s plan.Section) {
	x := r.Roster
	s.Say("Days", "%s to %s", plan.Date(r.Problem.From), plan.Date(r.Problem.To))
	s.Say("In time", "%s", r.served())
	if late := r.late(); late > 0 {
		s.Say("Late", "%s, by %s in all", plan.Count(late, "tool-day", "tool-days"),
			plan.Count(r.lateDays(), "day", "days"))
	}
	if missing := r.missing(); missing > 0 {
		s.Say("Missing", "%s", plan.Count(missing, "tool-day", "tool-days"))
	}
	if told := r.told(); told > 0 {
		s.Say("Told", "%s, of which %d moved", plan.Count(told, "tool-day", "tool-days"), x.Moved)
	}
	if !x.Proven {
		s.Say("Search", "ended before the roster was proven to be the best")
	}
	s.Say("Handovers", "%d%s", x.Handovers, unproven(x.HandoversProven, "; fewer may be possible"))
	s.Say("Weather", "%s", r.Weather)
	s.Put("on", r.On, "from", r.Problem.From, "to", r.Problem.To, "weather", r.Weather,
		"plots_planned", len(r.Plots), "plots_served", x.Served, "plots_served_at_most", x.Bound, "proven", x.Proven,
		"lateness_days", x.Lateness, "told_turns", r.told(), "told_turns_moved", x.Moved, "handovers", x.Handovers,
		"handovers_proven", x.HandoversProven)
	return s
}

// late counts the turns after the windows of their plots.
func (r *Report) late() (n int) {
	for _, t := range r.Roster.Turns {
		n += min(1, t.Late)
	}
	return n
}

// lateDays counts the days by which turns are late.
func (r *Report) lateDays() (n int) {
	for _, t := range r.Roster.Turns {
		n += t.Late
	}
	return n
}

// missing counts the tool-days that plots need and do not get.
func (r *Report) missing() (n int) {
	for _, p := range r.Roster.Plots {
		n += p.Missing
	}
	return n
}

// served says how many plots are weeded inside their windows, and whether more can be.
func (r *Report) served() string {
	x := r.Roster
	words := fmt.Sprintf("%d of %s inside their windows", x.Served, plan.Count(len(r.Plots), "plot", "plots"))
	over := 0
	for _, p := range r.Plots {
		if p.Work.Closes < r.Problem.From {
			over++
		}
	}
	if over > 0 {
		words += fmt.Sprintf(" (%s over before)", plan.Count(over, "window was", "windows were"))
	}
	switch {
	case x.Served == len(r.Plots):
		return words
	case x.Served == x.Bound:
		return words + "; with these tools no roster does better"
	}
	return fmt.Sprintf("%s; at most %d may be possible", words, x.Bound)
}

func unproven(proven bool, words string) string {
	if proven {
		return ""
	}
	return words
}

// told counts the told turns within the planned days.
func (r *Report) told() int {
	n := 0
	for _, p := range r.Problem.Plots {
		for _, t := range p.Told {
			if r.Problem.From <= t.Day && t.Day <= r.Problem.To {
				n++
			}
		}
	}
	return n
}

// lastDay returns the last day with a turn or, without turns, the first planned day.
func (r *Report) lastDay() engine.Day {
	if n := len(r.Roster.Turns); n > 0 {
		return r.Roster.Turns[n-1].Day
	}
	return r.Problem.From
}

// A week is a block of days in the table: as many columns as a usual terminal shows.
const daysInBlock = 7

// days is the table of turns: days across, tools down, in blocks of a week. It ends with the last turn.
func (r *Report) days() (s plan.Section) {
	s.Title = "Turns"
	names := r.shortNames()
	cells := map[int]map[engine.Day]string{}
	turns := []plan.Object{}
	for _, t := range r.Roster.Turns {
		if cells[t.Tool] == nil {
			cells[t.Tool] = map[engine.Day]string{}
		}
		name := names[t.Plot]
		if t.Late > 0 {
			name += " late"
		}
		cells[t.Tool][t.Day] = name
		var o plan.Object
		o.Put("day", t.Day, "tool", r.Tools[t.Tool].Name, "plot", r.Plots[t.Plot].Name, "late_days", t.Late)
		turns = append(turns, o)
	}
	for from := r.Problem.From; from <= r.lastDay(); from += daysInBlock {
		s.Align()
		to := min(from+daysInBlock-1, r.lastDay())
		var head strings.Builder
		for d := from; d <= to; d++ {
			head.WriteString("\t" + plan.ShortDate(d))
		}
		s.Line(head.String())
		for i, t := range r.Tools {
			line := t.Name
			for d := from; d <= to; d++ {
				switch cell := cells[i][d]; {
				case cell != "":
					line += "\t" + cell
				case t.out(d):
					line += "\tout"
				default:
					line += "\t-"
				}
			}
			s.Line(line)
		}
	}
	s.Put("turns", turns)
	return s
}

// out reports whether the tool cannot be used on the day.
func (t Tool) out(d engine.Day) bool {
	for _, o := range t.Out {
		if o.From <= d && d <= o.To {
			return true
		}
	}
	return false
}

// maxCell is the number of letters of a name in the table of days.
const maxCell = 12

// shortNames returns the names of the plots for the table of days: cut, unless two would then be the same.
func (r *Report) shortNames() []string {
	names, same := make([]string, len(r.Plots)), map[string]int{}
	for i, p := range r.Plots {
		if names[i] = p.Name; utf8.RuneCountInString(p.Name) > maxCell {
			names[i] = strings.TrimRight(string([]rune(p.Name)[:maxCell-1]), " ") + "…"
		}
		same[names[i]]++
	}
	for i, p := range r.Plots {
		if same[names[i]] > 1 {
			names[i] = p.Name
		}
	}
	return names
}

// plots lists each plot with its turns.
func (r *Report) plots() (s plan.Section) {
	s.Title = "Plots"
	s.Line("plot\twindow\tturns")
	list := []plan.Object{}
	for i, p := range r.Plots {
		x := r.Roster.Plots[i]
		remark := ""
		switch {
		case x.Unsuited:
			remark = "no tool suits its rows"
		case x.Missing == x.Need:
			remark = "no turn"
		case x.Missing > 0:
			remark = fmt.Sprintf("%d of %s", x.Need-x.Missing, plan.Count(x.Need, "tool-day", "tool-days"))
		case !x.Served:
			remark = "late"
		}
		if len(x.Moved) > 0 {
			remark = strings.TrimPrefix(remark+", moved", ", ")
		}
		s.Line(strings.TrimRight(p.Name+"\t"+r.words().Days(p.Work.Opens, p.Work.Closes)+"\t"+r.turnsOf(i)+"\t"+
			remark, "\t"))
		var o plan.Object
		o.Put("plot", p.Name, "household", r.Households[p.Household].Name, "window_opens", p.Work.Opens,
			"window_closes", p.Work.Closes, "late_until", p.Work.Until, "tool_days", x.Need, "served", x.Served,
			"suited", !x.Unsuited, "missing_tool_days", x.Missing, "lateness_days", x.Lateness,
			"told_turns_moved", len(x.Moved))
		o.PutSet("by_hand_hours", plan.Round(p.Work.HandHours))
		list = append(list, o)
	}
	s.Put("plots", list)
	return s
}

// unserved lists the plots that are not weeded inside their windows.
func (r *Report) unserved() (s plan.Section) {
	words := r.words()
	for i, p := range r.Plots {
		if x := r.Roster.Plots[i]; !x.Served {
			if s.Title == "" {
				s.Title = "Not weeded inside the window"
			}
			s.Line(p.Name + "\t" + words.WhyNot(i, p.Work.HandHours))
		}
	}
	return s
}

// left lists the plots that the roster does not have.
func (r *Report) left() (s plan.Section) {
	list := []plan.Object{}
	for _, p := range r.Left {
		if s.Title == "" {
			s.Title = "Not planned"
		}
		words := "no pass is due: its rows are closed, or it was weeded last"
		switch p.Why {
		case TooLate:
			words = "too late for a tool: its window closed on " + plan.ShortDate(p.Days.Closes) + "; weed by hand"
		case TooFarOff:
			words = fmt.Sprintf("its window opens on %s; plan it nearer to that day", plan.Date(p.Days.Opens))
		}
		s.Line(p.Name + "\t" + words)
		var o plan.Object
		o.Put("plot", p.Name, "why", p.Why)
		list = append(list, o)
	}
	s.Put("not_planned", list)
	return s
}
