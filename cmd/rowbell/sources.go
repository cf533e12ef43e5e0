package main

import (
	"fmt"
	"io"
	"strconv"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
)

// sourcesCmd is rowbell sources: it lists the constants of the engine with their sources.
type sourcesCmd struct {
	JSON bool `name:"json" xor:"form" help:"Print JSON."`
	CSV  bool `name:"csv" xor:"form" help:"Print CSV."`
}

// Run prints the constants of the engine as a table, JSON or CSV.
func (c *sourcesCmd) Run(w *world) error {
	out, bounds := w.out, map[string]engine.Setting{}
	for _, s := range engine.Settings() {
		bounds[s.Name] = s
	}
	if !c.JSON && !c.CSV {
		return sourcesTable(out, bounds)
	}
	var facts, known []plan.Object
	for _, u := range engine.Uses() {
		for _, f := range u.Facts {
			o := factObject(f, u.Advice, bounds)
			facts, known = append(facts, o), append(known, o.Known())
		}
	}
	if c.JSON {
		return plan.JSON(out, known)
	}
	return plan.CSV(out, facts[0], func(yield func(plan.Object, error) bool) {
		for _, o := range facts {
			if !yield(o, nil) {
				return
			}
		}
	})
}

// sourcesTable prints a line for each constant, and the long sources below. The column USED FOR has the advice that
// rests on it, the column PLACE the range that an operator may set for a place.
func sourcesTable(out io.Writer, bounds map[string]engine.Setting) error {
	var facts, note, sources plan.Section
	facts.Line("NAME\tVALUE\tUNIT\tTRUST\tUSED FOR\tPLACE\tMEANING")
	sources.Line("SOURCES")
	for _, u := range engine.Uses() {
		for _, f := range u.Facts {
			place := ""
			if x, ok := bounds[f.Name]; ok {
				place = decimal(x.Min) + " to " + decimal(x.Max)
			}
			facts.Line(fmt.Sprintf("%s\t%s\t%s\t%s\t%s\t%s\t%s", f.Name, decimal(f.Value), f.Unit, f.Trust, u.Advice,
				place, f.Meaning))
			sources.Line(fmt.Sprintf("%s (%s)", f.Name, f.Trust))
			sources.Line("    " + f.Source)
		}
	}
	note.Line("PLACE: an operator may set the figure for a place " +
		"([place.figures] of the configuration, or rowbell plan --figure), from and to.")
	return plan.Table(out, facts, note, sources)
}

// factObject returns a constant and the advice that rests on it for JSON and CSV. place_min and place_max are nil if no
// place can set the constant.
func factObject(f engine.Fact, advice string, bounds map[string]engine.Setting) (o plan.Object) {
	var least, most any
	if x, ok := bounds[f.Name]; ok {
		least, most = x.Min, x.Max
	}
	o.Put("name", f.Name, "value", f.Value, "unit", f.Unit, "meaning", f.Meaning, "source", f.Source,
		"trust", f.Trust, "used_for", advice, "place_min", least, "place_max", most)
	return o
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
