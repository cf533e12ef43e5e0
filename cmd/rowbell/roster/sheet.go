package roster

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/store/weathercsv"
)

// Sheet is what a file says: plots, tools, and the days of both. All its numbers are within their limits.
type Sheet struct {
	Plots      []Plot
	Tools      []Tool
	Households []Household
}

// Plot is a plot that needs a pass. A zero value means not given.
type Plot struct {
	Name      string
	Household int         // index in Sheet.Households
	Ground    engine.Plot // its Planted is 0 if only the window was given
	Window    Days        // the days of the pass
	Until     engine.Day  // last day for a late pass
	Need      int         // tool-days of the pass
	Missed    int         // windows in a row without a whole turn
	Told      []Told
	Passes    []engine.Pass     // in order of day
	Sightings []engine.Sighting // in order of day
}

// Tool is a shared tool.
type Tool struct {
	Name  string
	Width engine.Tool
	Out   []Days
}

// Household is who pushes the tools on its plots.
type Household struct {
	Name  string
	Hands int     // tools that it can push at the same time; 0 = not given
	Hours float64 // hours that each of them is pushed on a day; 0 = not given
	Other []OtherHands
}

// Days is a range of days, both included.
type Days struct{ From, To engine.Day }

// OtherHands is a range of days on which a household has other hands than usually; 0 on days of rest.
type OtherHands struct {
	Days
	Hands int
}

// Told is a day for which a grower was told a tool.
type Told struct {
	Day  engine.Day
	Tool int // index in Sheet.Tools
}

// kind is what a row is about: the word in its column "what".
type kind struct {
	name   string
	takes  string // the columns that a row of this kind may have, beside what and name
	needs  string // those of takes that it must have
	read   func(*sheetReader, fields)
	second bool // the row names a plot or a tool of another row
}

// kinds are all kinds of rows, in the order in which errors list them.
var kinds = []kind{
	{"plot", "household planted method water row_cm hill_cm area_m2 hands hours from to until days missed", "",
		(*sheetReader).plot, false},
	{"tool", "width_cm", "width_cm", (*sheetReader).tool, false},
	{"out", "from to", "from", (*sheetReader).out, true},
	{"rest", "from to hands", "from", (*sheetReader).rest, true},
	{"turn", "from to tool", "from tool", (*sheetReader).turn, true},
	{"weeded", "from note", "from", (*sheetReader).weeded, true},
	{"saw", "from note", "from note", (*sheetReader).saw, true},
}

// columns are all columns that a file may have.
var columns = strings.Fields("what name household planted method water row_cm hill_cm area_m2 hands hours from to " +
	"until days missed width_cm tool note")

// sheetReader reads the rows of a file into a Sheet and collects their mistakes.
type sheetReader struct {
	Sheet
	today engine.Day
	bad   mistakes
	named map[string]place // where plots and tools were named: by kind and name
	asked []place          // by plot: its row
	told  map[toolDay]int  // the plot that was told a tool on a day
}

// File is a file with its name.
type File struct {
	Name string
	Text io.Reader
}

// ReadSheet reads files on day today. Each has the names of its columns; their rows are taken together. The error has a
// weathercsv.BadRows with all bad rows of each file, or says what is wrong with a file.
func ReadSheet(files []File, today engine.Day) (Sheet, error) {
	s := &sheetReader{today: today, named: map[string]place{}, told: map[toolDay]int{}}
	var all []row
	for i, f := range files {
		rows, err := readTable(i, f.Text, columns)
		var form weathercsv.BadRows
		if err != nil && (!errors.As(err, &form) || len(rows) == 0) {
			return Sheet{}, fmt.Errorf("%s: %w", f.Name, err)
		}
		s.bad.names, s.bad.rows = append(s.bad.names, f.Name), append(s.bad.rows, form)
		all = append(all, rows...)
	}
	for _, second := range []bool{false, true} {
		for _, row := range all {
			s.row(row, second)
		}
	}
	if s.bad.err() == nil {
		s.whole()
	}
	if err := s.bad.err(); err != nil {
		return Sheet{}, err
	}
	for _, p := range s.Plots {
		slices.SortStableFunc(p.Passes, func(a, b engine.Pass) int { return cmp.Compare(a.On, b.On) })
		slices.SortStableFunc(p.Sightings, func(a, b engine.Sighting) int { return cmp.Compare(a.On, b.On) })
	}
	in := strings.Join(s.bad.names, ", ")
	switch {
	case len(s.Plots) == 0:
		return Sheet{}, fmt.Errorf("%s: there is no plot: write a row with plot in the column what", in)
	case len(s.Tools) == 0:
		return Sheet{}, fmt.Errorf("%s: there is no tool: write a row with tool in the column what", in)
	}
	return s.Sheet, nil
}

// row reads a row, if its kind is read in this round: the second is of rows that name a plot or a tool of another row.
func (s *sheetReader) row(r row, second bool) {
	f := fields{row: r, today: s.today, bad: &s.bad}
	what := strings.ToLower(r.fields["what"])
	k := slices.IndexFunc(kinds, func(k kind) bool { return k.name == what })
	switch {
	case k < 0 && second:
		return
	case k < 0 && what == "":
		f.mistake("the column what is empty; write one of %s", kindNames())
		return
	case k < 0:
		f.mistake("%s is none of %s", quote(r.fields["what"]), kindNames())
		return
	case kinds[k].second != second:
		return
	}
	takes := append(strings.Fields(kinds[k].takes), "what", "name")
	for _, column := range columns { // in this order, so that errors are the same in every run
		if v := r.fields[column]; v != "" && !slices.Contains(takes, column) {
			f.mistake("%s has no %s; leave that field empty", article(what), column)
		}
	}
	for _, column := range append([]string{"name"}, strings.Fields(kinds[k].needs)...) {
		if r.fields[column] == "" {
			f.mistake("%s needs %s", article(what), needed[column])
		}
	}
	id := what + " " + key(f.name("name"))
	if at, twice := s.named[id]; twice && !second {
		f.mistake("the %s %s is already on %s; give each its own name", what, r.fields["name"],
			s.bad.where(at, f.file))
	} else if !second {
		s.named[id] = r.place
	}
	if !f.wrong() {
		kinds[k].read(s, f)
	}
}

// needed says what to write into a column that must not be empty.
var needed = map[string]string{"name": "a name", "width_cm": "its width_cm, as in 15, or 10 to 15",
	"from": "the day in from, as in 2026-11-25", "tool": "the name of its tool in the column tool",
	"note": "what was seen in note, as in 2-3:many"}

// article writes the name of a kind of row for a sentence.
func article(kind string) string {
	switch kind {
	case "out":
		return "a row out"
	case "weeded", "saw":
		return "a row " + kind
	}
	return "a " + kind
}

func kindNames() string {
	var names []string
	for _, k := range kinds {
		names = append(names, k.name)
	}
	return strings.Join(names, ", ")
}

// whole checks what needs all rows.
func (s *sheetReader) whole() {
	for i, p := range s.Plots {
		for j := range p.Passes {
			s.before(i, "weeded", p.Passes[j].On)
		}
		for j := range p.Sightings {
			s.before(i, "saw", p.Sightings[j].On)
		}
	}
}

// before notes a mistake if something was told of a plot from before its planting day.
func (s *sheetReader) before(plot int, what string, on engine.Day) {
	p := &s.Plots[plot]
	switch planted := p.Ground.Planted; {
	case planted == 0:
		s.bad.add(s.asked[plot], "%s needs its planted day, because it has a row %s", p.Name, what)
	case on < planted:
		s.bad.add(s.asked[plot], "%s was planted on %s, after its row %s of %s", p.Name, planted, what, on)
	}
}
