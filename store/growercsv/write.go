package growercsv

import (
	"encoding/csv"
	"io"
)

// Writer writes a file that Parse reads.
type Writer struct {
	out   *csv.Writer
	plots bool
}

// NewWriter begins a file with the names of the columns. Without plots it has the columns of growers alone.
func NewWriter(w io.Writer, plots bool) *Writer {
	x := &Writer{csv.NewWriter(w), plots}
	var names []string
	for _, c := range x.columns() {
		names = append(names, c.name)
	}
	_ = x.out.Write(names) // Close returns the error
	return x
}

func (w *Writer) columns() (list []*column) {
	for i := range columns {
		if c := &columns[i]; !c.alias && (w.plots || !c.plot) {
			list = append(list, c)
		}
	}
	return list
}

// Write writes a row: a grower with one plot or, if v.No is 0, a grower alone.
func (w *Writer) Write(v Values) error {
	var cells []string
	for _, c := range w.columns() {
		text := ""
		if !c.plot || v.No != 0 {
			text = c.get(&v)
		}
		if c.text {
			text = Defuse(text)
		}
		cells = append(cells, text)
	}
	return w.out.Write(cells)
}

// Close writes what is buffered, and returns the first error of all rows.
func (w *Writer) Close() error {
	w.out.Flush()
	return w.out.Error()
}
