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
// source is too long for a column.
func sourcesTable(out io.Writer) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "NAME\tVALUE\tUNIT\tTRUST\tMEANING")
	var b strings.Builder
	for _, f := range engine.Facts() {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\n", f.Name, sourcesValue(f.Value), f.Unit, f.Trust, f.Meaning)
		fmt.Fprintf(&b, "%s (%s)\n    %s\n", f.Name, f.Trust, f.Source)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "\nSOURCES\n%s", b.String())
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
}

func sourcesJSON(out io.Writer) error {
	facts := []sourcesOut{}
	for _, f := range engine.Facts() {
		facts = append(facts, sourcesOut(f))
	}
	e := json.NewEncoder(out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(facts)
}

func sourcesCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	records := [][]string{{"name", "value", "unit", "meaning", "source", "trust"}}
	for _, f := range engine.Facts() {
		records = append(records, []string{f.Name, sourcesValue(f.Value), f.Unit, f.Meaning, f.Source, f.Trust.String()})
	}
	return w.WriteAll(records)
}

func sourcesValue(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
