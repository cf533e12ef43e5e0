package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"rowbell/engine"
)

// sourcesCmd is rowbell sources: the numbers the engine reckons with, and
// where each comes from.
type sourcesCmd struct {
	JSON bool `name:"json" xor:"form" help:"Print JSON."`
	CSV  bool `name:"csv" xor:"form" help:"Print CSV."`
}

func (c *sourcesCmd) Run(w *world) error { return c.run(w.out) }

func (c *sourcesCmd) run(out io.Writer) error {
	switch {
	case c.JSON:
		return sourcesJSON(out)
	case c.CSV:
		return sourcesCSV(out)
	}
	return sourcesTable(out)
}

// sourcesTable gives each number a line and its source an indented one: a
// source is too long for a column. PLACE has the bounds within which an
// operator may set a figure for a place.
func sourcesTable(out io.Writer) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "NAME\tVALUE\tUNIT\tTRUST\tPLACE\tMEANING")
	bounds := sourcesBounds()
	var b strings.Builder
	for _, f := range engine.Facts() {
		place := ""
		if x, ok := bounds[f.Name]; ok {
			place = sourcesValue(x.Min) + " to " + sourcesValue(x.Max)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\n", f.Name, sourcesValue(f.Value), f.Unit, f.Trust, place, f.Meaning)
		fmt.Fprintf(&b, "%s (%s)\n    %s\n", f.Name, f.Trust, f.Source)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "\nPLACE: an operator may set the figure for a place ([place.figures] of the configuration, or rowbell plan --figure), from and to.\n\nSOURCES\n%s", b.String())
	return err
}

// The JSON of rowbell sources: names are stable.
type sourcesOut struct {
	Name    string       `json:"name"`
	Value   float64      `json:"value"`
	Unit    string       `json:"unit"`
	Meaning string       `json:"meaning"`
	Source  string       `json:"source"`
	Trust   engine.Trust `json:"trust"`
	Min     *float64     `json:"place_min,omitempty"` // an operator may set it for a place: from
	Max     *float64     `json:"place_max,omitempty"` // to
}

// sourcesBounds are the figures that can be set for a place, by name.
func sourcesBounds() map[string]engine.Setting {
	bounds := map[string]engine.Setting{}
	for _, s := range engine.Settings() {
		bounds[s.Name] = s
	}
	return bounds
}

func sourcesJSON(out io.Writer) error {
	facts := []sourcesOut{}
	bounds := sourcesBounds()
	for _, f := range engine.Facts() {
		out := sourcesOut{Name: f.Name, Value: f.Value, Unit: f.Unit, Meaning: f.Meaning, Source: f.Source, Trust: f.Trust}
		if x, ok := bounds[f.Name]; ok {
			out.Min, out.Max = &x.Min, &x.Max
		}
		facts = append(facts, out)
	}
	e := json.NewEncoder(out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(facts)
}

func sourcesCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	records := [][]string{{"name", "value", "unit", "meaning", "source", "trust", "place_min", "place_max"}}
	bounds := sourcesBounds()
	for _, f := range engine.Facts() {
		least, most := "", ""
		if x, ok := bounds[f.Name]; ok {
			least, most = sourcesValue(x.Min), sourcesValue(x.Max)
		}
		records = append(records, []string{f.Name, sourcesValue(f.Value), f.Unit, f.Meaning, f.Source, f.Trust.String(), least, most})
	}
	return w.WriteAll(records)
}

func sourcesValue(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
