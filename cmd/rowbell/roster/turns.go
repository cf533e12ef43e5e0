package roster

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine/circle"
	"rowbell/engine/picture"
	"rowbell/gateway/desk/say"
)

// turnsOf writes the turns of a plot: Blue Wed 25 Nov to Thu 26 Nov.
func (r *Report) turnsOf(plot int) string {
	return r.words().Turns(r.of(plot))
}

// of returns the turns of a plot.
func (r *Report) of(plot int) (turns []circle.Turn) {
	for _, t := range r.Roster.Turns {
		if t.Plot == plot {
			turns = append(turns, t.Turn)
		}
	}
	return turns
}

// Turns writes the turns as rows of a file: together with the file of the plots they are the told turns of a later
// roster.
func (r *Report) Turns(w io.Writer) error {
	out := csv.NewWriter(w)
	_ = out.Write([]string{"what", "name", "tool", "from", "to"}) // Flush keeps the error
	for i, p := range r.Plots {
		for _, x := range say.Runs(r.of(i)) {
			_ = out.Write([]string{"turn", p.Name, r.Tools[x.Tool].Name, x.From.String(), x.To.String()})
		}
	}
	out.Flush()
	return out.Error()
}

// Picture draws the turns.
func (r *Report) Picture(w io.Writer) error {
	x := picture.Roster{From: r.Problem.From, To: r.lastDay()}
	for i, t := range r.Tools {
		tool := picture.RosterTool{Name: t.Name}
		for _, turn := range r.Roster.Turns {
			if turn.Tool == i {
				tool.Turns = append(tool.Turns, picture.RosterTurn{On: turn.Day, Plot: r.Plots[turn.Plot].Name,
					Late: turn.Late > 0})
			}
		}
		for _, o := range t.Out {
			if o.From <= x.To && o.To >= x.From {
				tool.Out = append(tool.Out, picture.RosterDays{From: max(o.From, x.From), To: min(o.To, x.To)})
			}
		}
		x.Tools = append(x.Tools, tool)
	}
	beneath := []plan.Section{r.unserved(), r.left()}
	if len(r.Helps) > 0 {
		beneath = slices.Insert(beneath, 1, r.helps())
	}
	for _, s := range beneath {
		separator := ": "
		if s.Title == helpTitle {
			separator = "; "
		}
		for j, line := range s.Lines() {
			if j == 0 {
				x.Below = append(x.Below, picture.RosterLine{Text: s.Title, Strong: true})
			}
			text := strings.ReplaceAll(line, "\t", separator)
			x.Below = append(x.Below, picture.RosterLine{Text: text, Level: 1})
		}
	}
	title := fmt.Sprintf("Turns from %s to %s", plan.Date(x.From), plan.Date(x.To))
	return picture.Turns(w, x, picture.Options{Title: title, Note: r.served()})
}
