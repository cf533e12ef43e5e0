package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"rowbell/engine"
)

// planTable writes a plan for people.
func planTable(w io.Writer, p planned) error {
	s, plan := p.season, p.Full.Plan
	t := planSheet{tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)}
	t.row("Plot", "%s", planPlotWords(s.Plot))
	t.row("Tool", "%s", planFitWords(s, p.Fit))
	t.row("Today", "%s, day %d after planting", planDate(p.On), p.On-s.Plot.Planted)
	t.row("State", "%s", planStanding(plan))
	closed := p.State == engine.Closed
	if !p.Fit.Hand() && !closed {
		t.row("Weeds", "%s", planWeedWords(plan))
	}
	t.row("Crop", "shades %.0f%% of the ground (by the model)", 100*p.Shade)
	if err := t.Flush(); err != nil {
		return err
	}
	if err := planWindows(w, s, plan); err != nil {
		return err
	}
	t.section("")
	t.row(planEndName(plan), "%s, day %d: %s", planDate(p.Closure.LastToolDay), p.Closure.LastToolDay-s.Plot.Planted, p.Closure.Why)
	if pi := p.Closure.PanicleStarts; !p.Fit.Hand() && !closed {
		t.row("Panicles form", "about %s, day %d: from then push gently and keep off the plants", planDate(pi), pi-s.Plot.Planted)
	}
	t.row("Reckoned with", "%s", p.weather)
	if p.LookAgain != 0 {
		t.row("Look again", "%s", planDate(p.LookAgain))
	}
	if !closed {
		t.water(p)
		t.work(p)
	}
	t.costs(p)
	if !closed {
		t.risk(p)
		t.heat(p)
	}
	t.soFar(p)
	if err := t.Flush(); err != nil {
		return err
	}
	if closed {
		return nil
	}
	_, err := fmt.Fprintf(w, "\nTake care\n  %s\n", strings.Join(planCautions(p.Fit), "\n  "))
	return err
}

// planSheet is a table of names and what is said of them, in sections that
// are aligned each by itself.
type planSheet struct{ *tabwriter.Writer }

func (t planSheet) row(name, format string, args ...any) {
	fmt.Fprintf(t, "%s\t%s\n", name, fmt.Sprintf(format, args...))
}

// section begins a new part; an unnamed one is only set off.
func (t planSheet) section(name string) {
	t.Flush() // an error comes again with the next
	fmt.Fprintln(t)
	if name != "" {
		fmt.Fprintln(t, name)
	}
}

// item is a row of a named section.
func (t planSheet) item(name, format string, args ...any) { t.row("  "+name, format, args...) }

// planWindows writes the windows still ahead.
func planWindows(w io.Writer, s engine.Season, p engine.Plan) error {
	if !p.Next.Exists() {
		_, err := fmt.Fprintln(w, "\nNo further window.")
		return err
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "\nWindow\tOpens\tBest\tCloses\tDays\tWith\tWhy")
	for i, x := range append([]engine.Window{p.Next}, p.Later...) {
		name, why := fmt.Sprint(x.Number), planWhy(x.Why)
		if i > 0 {
			name = "about " + name
			why += ", if the plan is kept"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%d-%d\t%s\t%s\n", name, planShort(x.Opens), planShort(x.Best), planShort(x.Closes),
			x.Opens-s.Plot.Planted, x.Closes-s.Plot.Planted, x.With, why)
	}
	return t.Flush()
}

func planEndName(p engine.Plan) string {
	if p.Fit.Hand() {
		return "Last weeding"
	}
	return "Last tool day"
}

// planPlotWords says what the plot is.
func planPlotWords(p engine.Plot) string {
	verb := map[engine.Method]string{engine.Transplanted: "Transplanted", engine.RowSown: "Sown in rows", engine.Broadcast: "Scattered"}[p.Method]
	words := []string{verb + " " + planDate(p.Planted)}
	switch {
	case p.Method == engine.Broadcast:
	case p.HillSpacingCM > 0:
		words = append(words, fmt.Sprintf("rows %g cm, plants %g cm", p.RowSpacingCM, p.HillSpacingCM), fmt.Sprintf("%.3g hills/m2", p.HillsPerM2()))
	default:
		words = append(words, fmt.Sprintf("rows %g cm", p.RowSpacingCM))
	}
	if p.AreaM2 > 0 {
		words = append(words, fmt.Sprintf("%.10g m2", p.AreaM2))
	}
	return strings.Join(words, ", ")
}

// planFitWords says how the tool suits the rows.
func planFitWords(s engine.Season, f engine.Fit) string {
	row, tool := s.Plot.RowSpacingCM, fmt.Sprintf("%g cm", s.Tool.WidthCM)
	if s.Tool.Adjustable() {
		tool = fmt.Sprintf("%g to %g cm", s.Tool.WidthCM, s.Tool.MaxWidthCM)
	}
	set := ""
	if s.Tool.Adjustable() {
		set = fmt.Sprintf("set to %g cm, ", f.WidthCM)
	}
	across := ""
	switch {
	case f.CrossFits:
		across = fmt.Sprintf("; may go across too and then sweeps %.0f%% of the ground, one way %.0f%%", 100*f.SweptCrossed, 100*f.SweptOnce)
	case f.SweptOnce > 0:
		across = fmt.Sprintf("; one way only, sweeps %.0f%% of the ground", 100*f.SweptOnce)
	}
	switch f.Verdict {
	case engine.FitGood:
		return fmt.Sprintf("%s: fits, %s%.3g cm free on each side%s", tool, set, f.ClearanceCM, across)
	case engine.FitLoose:
		return fmt.Sprintf("%s: passes, %sbut leaves %.3g cm on each side to pull by hand%s", tool, set, f.ClearanceCM, across)
	case engine.FitTooWide:
		return fmt.Sprintf("%s: too wide for rows of %g cm, it needs %g cm; weed by hand", tool, row, f.SmallestRowCM)
	case engine.FitNoRows:
		return "no rows for a tool; weed by hand"
	}
	if widest := row - 2*engine.SideClearanceCM; widest >= engine.MinToolCM {
		return fmt.Sprintf("none yet; up to %g cm wide fits these rows", widest)
	}
	return "none yet, and the rows are too narrow for one"
}

// planStanding says where the plot stands and what is to do.
func planStanding(p engine.Plan) string {
	w := p.Next
	hand := p.Fit.Hand()
	switch p.State {
	case engine.TooEarly:
		return "too early, the window opens on " + planDate(w.Opens)
	case engine.Prepare:
		if hand {
			return "get ready to weed by hand from " + planDate(w.Opens)
		}
		return fmt.Sprintf("get ready, the window opens on %s: bring water to 5 cm and try the tool on a strip", planDate(w.Opens))
	case engine.Open, engine.LastDays:
		days := "weed now, until "
		if p.State == engine.LastDays {
			days = "last days, weed by "
		}
		if hand {
			return days + planDate(w.Closes)
		}
		return days + planDate(w.Closes) + ", in 5 cm of water"
	case engine.Missed:
		if hand {
			return fmt.Sprintf("the usual days ended on %s: weed as soon as you can", planDate(w.Closes))
		}
		return "missed, weeds are too big for the tool: pull them by hand now"
	case engine.FollowUp:
		if w.Exists() {
			return "just weeded: pull what stands in the rows; the next window opens on " + planDate(w.Opens)
		}
		return "no further pass: pull what stands in the rows"
	}
	return "closed, the work is over"
}

func planWeedWords(p engine.Plan) string {
	switch {
	case p.WeedLeaves <= 0:
		return "most are not up yet (by the model)"
	case p.WeedLeaves >= engine.WindowClosesLeaves:
		return fmt.Sprintf("past %g leaves on most (by the model)", engine.WindowClosesLeaves)
	}
	return fmt.Sprintf("about %.1f leaves on most (by the model)", p.WeedLeaves)
}

// planHours is a length of work as people tell it.
func planHours(h float64) string {
	if h < 1 {
		return fmt.Sprintf("%.0f minutes", h*60)
	}
	if h >= 10 {
		return fmt.Sprintf("%.0f hours", h)
	}
	return fmt.Sprintf("%.1f hours", h)
}

// planCautions are the usual ones: teeth, heat, wading.
func planCautions(f engine.Fit) []string {
	cautions := []string{
		"Keep fingers off the turning teeth; lift the tool by its handle.",
		"Work in the cool hours, drink often, rest in the shade, stop if dizzy. No work in lightning or deep water.",
		"Cover cuts, wear shoes where you can, wash after wading; for fever after it see a health worker and say that you work in rice fields.",
	}
	if f.Hand() {
		return cautions[1:]
	}
	return cautions
}

// planWhy says what a window rests on.
func planWhy(w engine.Why) string {
	switch w {
	case engine.WhyWeedClock:
		return "two to four leaves by the heat since puddling"
	case engine.WhyRegrowth:
		return "two to four leaves again by the heat since the pass"
	case engine.WhyManyLeft:
		return fmt.Sprintf("many were left: again in %d to %d days", engine.AgainOpensDays, engine.AgainClosesDays)
	case engine.WhySeen:
		return "from the leaves that were seen"
	case engine.WhySeenBig:
		return "weeds were seen past four leaves"
	}
	return w.String()
}

// planDate is a day in a sentence, planShort in a column.
func planDate(d engine.Day) string {
	y, _, _ := d.Date()
	return fmt.Sprintf("%s %d", planShort(d), y)
}

func planShort(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%s %d %s", d.Weekday().String()[:3], day, m.String()[:3])
}
