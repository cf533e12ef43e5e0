package picture

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"rowbell/engine"
)

// shortDate writes a day without its year, such as "28 Nov".
func shortDate(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%d %s", day, m.String()[:3])
}

// dateRange writes a range of days, such as "28 to 30 Nov".
func dateRange(from, to engine.Day) string {
	_, m1, day := from.Date()
	switch _, m2, _ := to.Date(); {
	case from == to:
		return shortDate(from)
	case m1 == m2:
		return fmt.Sprintf("%d to %s", day, shortDate(to))
	}
	return shortDate(from) + " to " + shortDate(to)
}

// title returns the title of a picture without Options.Title: the plot's label and planting day.
func (v *seasonView) title() string {
	y, m, d := v.Plot.Planted.Date()
	return fmt.Sprintf("%s, planted %d %s %d", cmp.Or(v.Plot.Label, "Season"), d, m, y)
}

// desc describes the picture in words, for screen readers.
func (v *seasonView) desc() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Planted on %s. On %s: %s.", v.Plot.Planted, v.plan.On, v.plan.State)
	for _, p := range v.Passes {
		fmt.Fprintf(&b, " Weeded on %s.", passWords(p))
	}
	for _, s := range v.Sightings {
		fmt.Fprintf(&b, " Seen on %s: %s.", shortDate(s.On), sightingWords(s))
	}
	for _, w := range v.past {
		fmt.Fprintf(&b, " Window %s.", pastWords(w))
	}
	for _, w := range v.coming() {
		fmt.Fprintf(&b, " Window %d: %s, best %s%s.", w.Number, dateRange(w.Opens, w.Closes), shortDate(w.Best),
			chanceWords(w))
	}
	if look, ok := v.look(); ok {
		fmt.Fprintf(&b, " Look at the weeds on %s.", shortDate(look))
	}
	if today := int(v.plan.On - v.first); today >= 0 && today < len(v.depths) && v.depths[today] >= 0 {
		fmt.Fprintf(&b, " About %g cm of water today.", math.Round(v.depths[today]/5)/2)
	}
	if work, ok := v.workDays(); ok {
		fmt.Fprintf(&b, " %s.", work.words)
	}
	fmt.Fprintf(&b, " Last tool day %s: %s.", shortDate(v.plan.Closure.LastToolDay), v.endReason())
	return b.String()
}

// pastWords returns the days of the window and what became of it.
func pastWords(w engine.PastWindow) string {
	return dateRange(w.Opens, w.Closes) + ", " + w.End.String()
}

// endReason says why the work with the tool ends.
func (v *seasonView) endReason() string {
	switch {
	case v.closedByGrower():
		return "closed by the grower"
	case v.plan.Fit.Hand():
		return "after the usual hand weedings"
	}
	switch v.plan.Closure.Why {
	case engine.EndSeen:
		return "rows seen closed"
	case engine.EndPlantsBig:
		return "plants too big for the tool"
	case engine.EndPanicle:
		return "panicles form"
	}
	return "rows closed"
}

// chanceWords says how sure the best day of a window is, after a comma; "" if the chance was not computed.
func chanceWords(w engine.Window) string {
	if w.Chance <= 0 {
		return ""
	}
	return fmt.Sprintf(", chance %.0f%%", 100*w.Chance)
}

func passWords(p engine.Pass) string {
	with := map[engine.Means]string{engine.ByTool: "tool", engine.ByHand: "by hand"}[p.With]
	words := []string{shortDate(p.On), cmp.Or(with, "weeded")}
	if p.Way == engine.Both {
		words = append(words, "both ways")
	}
	switch p.Share {
	case 0, 1:
	case 1.0 / 2:
		words = append(words, "half")
	default:
		words = append(words, fmt.Sprintf("%.0f%%", 100*p.Share))
	}
	if p.Left != engine.AmountUnknown {
		words = append(words, p.Left.String()+" left")
	}
	return strings.Join(words, ", ")
}

func sightingWords(s engine.Sighting) string {
	var words []string
	if s.Leaves != engine.LeavesUnknown {
		words = append(words, leavesSeenWords[s.Leaves])
	}
	if s.Amount != engine.AmountUnknown {
		words = append(words, s.Amount.String())
	}
	if s.Rows != engine.RowsUnknown {
		words = append(words, "rows "+s.Rows.String())
	}
	if s.Water != engine.StandsUnknown {
		words = append(words, waterSeenWords[s.Water])
	}
	return cmp.Or(strings.Join(words, ", "), "looked")
}

var leavesSeenWords = map[engine.Leaves]string{engine.NoneUp: "no leaf yet", engine.OneLeaf: "1 leaf",
	engine.TwoThree: "2-3 leaves", engine.FourPlus: "4 leaves or more"}

var waterSeenWords = map[engine.Stands]string{engine.StandsDry: "dry", engine.StandsMud: "mud, no water",
	engine.StandsFingers: "water two fingers deep", engine.StandsHand: "water a hand deep"}
