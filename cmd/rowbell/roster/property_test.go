package roster

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store/weathercsv"
)

// drawer draws a file. Most of its fields are of use, so that many files have no mistake.
type drawer struct {
	*rapid.T
	plots, tools int
}

func (d drawer) n(name string, from, to int) int { return rapid.IntRange(from, to).Draw(d.T, name) }

func (d drawer) text(name string, from, to int) string { return strconv.Itoa(d.n(name, from, to)) }

func (d drawer) day(name string, from, to int) string {
	return (today + engine.Day(d.n(name, from, to))).String()
}

func (d drawer) oneOf(name string, words ...string) string {
	return rapid.SampledFrom(words).Draw(d.T, name)
}

// maybe returns v, or leaves it out.
func (d drawer) maybe(v string) string { return d.oneOf("given", "", v, v) }

func (d drawer) plot() string { return "p" + d.text("plot", 0, d.plots-1) }
func (d drawer) tool() string { return "t" + d.text("tool", 0, d.tools-1) }

// file draws a file with rows of every kind.
func (d drawer) file() string {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	add := func(fields map[string]string) {
		line := make([]string, len(columns))
		for i, c := range columns {
			line[i] = fields[c]
		}
		_ = w.Write(line)
	}
	_ = w.Write(columns)
	for i := range d.tools {
		width := d.n("width", 5, 25)
		wider := strconv.Itoa(width) + "-" + strconv.Itoa(width+d.n("wider", 1, 9))
		add(map[string]string{"what": "tool", "name": "t" + strconv.Itoa(i),
			"width_cm": d.oneOf("set", strconv.Itoa(width), wider)})
	}
	for i := range d.plots {
		fields := map[string]string{"what": "plot", "name": "p" + strconv.Itoa(i),
			"household": d.maybe("h" + d.text("household", 0, 2)), "planted": d.day("planted", -80, 10),
			"row_cm": d.text("row", 10, 40), "hill_cm": d.maybe(d.text("hill", 10, 40)),
			"area_m2": d.text("area", 1, 20_000), "missed": d.maybe(d.text("missed", 0, 3)),
			"method": d.oneOf("method", "", "transplanted", "row-sown", "broadcast"),
			"days":   d.maybe(d.text("days", 1, 6))}
		if d.n("window", 0, 3) == 0 {
			fields["from"], fields["to"] = d.days(-60, 140)
			fields["planted"] = d.maybe(fields["planted"])
		}
		add(fields)
	}
	for range d.n("other rows", 0, 6) {
		add(d.otherRow())
	}
	w.Flush()
	return b.String()
}

// days draws a range of days.
func (d drawer) days(least, most int) (from, to string) {
	first := d.n("from", least, most)
	return (today + engine.Day(first)).String(), (today + engine.Day(first+d.n("to", 0, 9))).String()
}

// otherRow draws a row about a plot or a tool of another row.
func (d drawer) otherRow() map[string]string {
	from, to := d.days(-20, 40)
	to = d.maybe(to)
	switch d.n("kind", 0, 3) {
	case 0:
		return map[string]string{"what": "out", "name": d.tool(), "from": from, "to": to}
	case 1:
		return map[string]string{"what": "rest", "name": d.plot(), "from": from, "to": to,
			"hands": d.maybe(d.text("hands", 0, 4))}
	case 2:
		return map[string]string{"what": "turn", "name": d.plot(), "tool": d.tool(), "from": from, "to": to}
	}
	return map[string]string{"what": "weeded", "name": d.plot(), "from": d.day("weeded", -60, 0),
		"note": d.maybe(d.oneOf("note", "hand", "tool few", "tool:many", "50%"))}
}

// A file without a mistake makes a roster that keeps its limits, and a report in every form.
func TestEveryFileHasARosterOrMistakes(t *testing.T) {
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		d := drawer{t, rapid.IntRange(1, 6).Draw(t, "plots"), rapid.IntRange(1, 3).Draw(t, "tools")}
		text := d.file()
		in := Input{Crossed: rapid.Bool().Draw(t, "crossed"), Explain: d.n("explain", 0, 4) == 0}
		in.Temps = d.oneOf("temps", "", "9-17", "4-14", "26-36")
		few := circle.Limit{Nodes: 200}
		r, err := New(&in, ours(text), today, Limits{few, few, few})
		var bad weathercsv.BadRows
		if errors.As(err, &bad) {
			return
		}
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		made++
		if err := circle.Verify(r.Problem, r.Roster); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if len(r.Plots)+len(r.Left) != len(r.Sheet.Plots) {
			t.Fatalf("%d plots planned and %d not, of %d", len(r.Plots), len(r.Left), len(r.Sheet.Plots))
		}
		var table, doc, drawn bytes.Buffer
		if err := errors.Join(r.Table(&table), r.JSON(&doc), r.Picture(&drawn)); err != nil {
			t.Fatal(err)
		}
		if !json.Valid(doc.Bytes()) || strings.Contains(table.String()+drawn.String(), "%!") {
			t.Fatalf("%s\n%s", doc.String(), table.String())
		}
	})
	if made == 0 {
		t.Error("every file had a mistake: the files are not the ones meant")
	}
}
