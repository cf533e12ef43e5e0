// Package growercsv reads and writes files of growers and their plots. It writes nothing into the records and does not
// use the database: package store compares what a file says with the records.
//
// A file looks like this:
//
//	phone,language,place,consent_words,consent_by,consent_on,plot,label,method,planted,row_spacing_cm
//	+447700900001,en,default,I want texts about weeding,Field worker 3,2026-06-01,1,Bund,transplanted,2026-05-28,25
//
// The first line names the columns, in any order; Columns lists them. Each name includes the unit. A row is one plot,
// with what is said of its grower, or a grower alone. An empty field says nothing: what is in the records stays. The
// word none takes a value out of the records. Lines that begin with # are comments. Fields may be separated by
// semicolons or tabs instead of commas; then numbers may have decimal commas. Days are written YYYY-MM-DD.
package growercsv

import (
	"rowbell/engine"
)

// MaxRows is the largest number of rows in a file. All rows are written in one transaction, for which phone calls wait:
// 0.4 s of processor time for as many new growers with a plot each (BenchmarkImport of package store).
const MaxRows = 10_000

// MaxPlot is the highest number of a plot.
const MaxPlot = 9

// Values are all that a row can say, or all that the records have of a grower and one plot. A zero value means not
// given.
type Values struct {
	Phone string // E.164, with the plus sign
	Texts string // "stopped" if the number wants no texts; only in files that were written

	Name, Note      string // for staff
	Language, Place string
	ConsentWords    string // the words that the grower agreed to
	ConsentBy       string // who asked the grower
	ConsentOn       engine.Day
	Home            engine.Household // People, Tools, HoursADay and Neighbours

	No   int // number of the plot
	Plot engine.Plot
	Tool engine.Tool
}

// Grower is what a file says of one number.
type Grower struct {
	Line  int // of the first row, counted from 1
	Phone string
	Rows  []Row
	says  []said // of the columns about growers, in all rows
}

// Row is what a row says of a plot. If About is false, the row is about its grower alone.
type Row struct {
	Line  int
	About bool
	No    int    // number of the plot; 0: the plot that is called Label
	Label string // "" if the row says none
	says  []said // of the columns about plots
}

// said is one cell of a row: the column, and how to set its value.
type said struct {
	column *column
	set    func(*Values)
}

// Over returns v with what the file says of the grower.
func (g *Grower) Over(v Values) Values { return over(g.says, v) }

// Over returns v with what the row says of the plot.
func (r *Row) Over(v Values) Values { return over(r.says, v) }

func over(says []said, v Values) Values {
	for _, s := range says {
		s.set(&v)
	}
	return v
}

// Change is a value that a file changes. From or To is "" if there is none.
type Change struct{ Column, From, To string }

// Changes lists which values differ between the records and what they would be after a row. Columns that name a grower
// or a plot, and those of the consent, are left out.
func Changes(was, now Values) (list []Change) {
	for i := range columns {
		c := &columns[i]
		if c.key || c.alias || c.consent {
			continue
		}
		if from, to := c.get(&was), c.get(&now); from != to {
			list = append(list, Change{c.name, from, to})
		}
	}
	return list
}

// Missing returns the columns without a value that a new grower, or with plot a new plot, must have.
func Missing(v Values, plot bool) (names []string) {
	for i := range columns {
		c := &columns[i]
		need := c.needed
		if c.name == "row_spacing_cm" { // seed that was scattered has no rows
			need = v.Plot.Method != engine.Broadcast && v.Plot.Method != 0
		}
		if need && c.plot == plot && c.get(&v) == "" {
			names = append(names, c.name)
		}
	}
	return names
}
