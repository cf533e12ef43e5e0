package store

import (
	"cmp"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

// exportLimit is how many growers are read at once.
const exportLimit = 200

// Export is what somebody wants as a CSV file.
type Export struct {
	What    string // one of ExportKinds
	Scope   Scope  // the places of the growers
	Numbers bool   // write whole numbers; otherwise they are masked, and the file cannot be imported
}

// ExportKinds are the files that WriteExport can write: growers, and growers with their open plots, in the form that
// can be imported; passes on all plots; and texts.
func ExportKinds() []string { return []string{"growers", "plots", "passes", "texts"} }

var (
	passHead = []string{"phone", "plot", "label", "planted", "closed", "weeded", "with", "way", "hours", "people",
		"weeds_left", "share_pct"}
	textHead = []string{"phone", "kind", "state", "reason", "network", "created_at", "due_at", "accepted_at",
		"ended_at", "tries", "text"}
)

// WriteExport writes a CSV file, place by place in the order of their names and page by page, and returns how many rows
// it has. It reads each page as of one instant, so that no read takes long.
func (s *Store) WriteExport(ctx context.Context, w io.Writer, x Export) (rows int, err error) {
	if !slices.Contains(ExportKinds(), x.What) {
		return 0, fmt.Errorf("there is no export of %q; there are: %s", x.What, strings.Join(ExportKinds(), ", "))
	}
	var places []Place
	if err := s.View(ctx, func(tx *Tx) (err error) {
		places, err = tx.Places()
		return err
	}); err != nil {
		return 0, err
	}
	e := newExportWriter(w, x)
	for _, p := range places {
		for after, more := int64(0), x.Scope.Has(p.ID); more && err == nil; more = after != 0 {
			err = s.View(ctx, func(tx *Tx) (err error) {
				after, err = e.read(tx, p.ID, after)
				return err
			})
			if err == nil {
				err = e.write()
			}
		}
	}
	return e.rows, cmp.Or(err, e.close())
}

// exportWriter holds a page between reading and writing, so that a slow reader holds up no transaction.
type exportWriter struct {
	Export
	values *growercsv.Writer // nil: passes or texts
	out    *csv.Writer
	page   []growercsv.Values
	cells  [][]string
	rows   int
}

func newExportWriter(w io.Writer, x Export) *exportWriter {
	e := &exportWriter{Export: x}
	switch x.What {
	case "growers", "plots":
		e.values = growercsv.NewWriter(w, x.What == "plots")
	default:
		e.out = csv.NewWriter(w)
		head := passHead
		if x.What == "texts" {
			head = textHead
		}
		_ = e.out.Write(head) // close returns the error
	}
	return e
}

// read reads a page, and returns where the next one begins.
func (e *exportWriter) read(tx *Tx, placeID, after int64) (last int64, err error) {
	e.page, e.cells = nil, nil
	switch e.What {
	case "passes":
		var list []ExportedPass
		list, last, err = tx.ExportPasses(placeID, after, exportLimit)
		for _, p := range list {
			e.cells = append(e.cells, e.passCells(p))
		}
	case "texts":
		var list []Message
		list, last, err = tx.ExportTexts(placeID, after, exportLimit)
		for _, m := range list {
			e.cells = append(e.cells, e.textCells(m))
		}
	default:
		e.page, last, err = tx.ExportGrowers(placeID, after, exportLimit, e.What == "plots")
	}
	return last, err
}

// phone returns a number as it is written.
func (e *exportWriter) phone(p Phone) string {
	if e.Numbers {
		return growercsv.Defuse(p.E164())
	}
	return growercsv.Defuse(p.String())
}

func (e *exportWriter) passCells(p ExportedPass) []string {
	closed := ""
	if p.ClosedOn != 0 {
		closed = p.ClosedOn.String()
	}
	share := ""
	if p.Share != 0 {
		share = decimal(100 * p.Share)
	}
	return []string{e.phone(p.Phone), strconv.Itoa(p.No), growercsv.Defuse(p.Label), p.Planted.String(), closed,
		p.On.String(), p.With.String(), given(p.Way), decimal(p.Hours), decimal(float64(p.People)), given(p.Left),
		share}
}

// given returns the name of a value, or "" if the grower did not say it.
func given[T interface {
	engine.Way | engine.Amount
	fmt.Stringer
}](v T) string {
	if v == 0 {
		return ""
	}
	return v.String()
}

// decimal writes a number with at most four places after the point; "" for 0.
func decimal(x float64) string {
	if x == 0 {
		return ""
	}
	return strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 4, 64), "0"), ".")
}

func (e *exportWriter) textCells(m Message) []string {
	at := func(i int64) string {
		if i == 0 {
			return ""
		}
		return Instant(i).String()
	}
	return []string{e.phone(m.To), m.Kind(), m.State.String(), growercsv.Defuse(m.Reason), growercsv.Defuse(m.Gateway),
		at(m.CreatedAt), at(m.DueAt), at(m.AcceptedAt), at(m.EndedAt), strconv.Itoa(m.Tries), growercsv.Defuse(m.Text)}
}

// write writes the page that was read.
func (e *exportWriter) write() error {
	for _, v := range e.page {
		if !e.Numbers {
			v.Phone = Phone(v.Phone).String()
		}
		if err := e.values.Write(v); err != nil {
			return err
		}
	}
	for _, cells := range e.cells {
		if err := e.out.Write(cells); err != nil {
			return err
		}
	}
	e.rows += len(e.page) + len(e.cells)
	return nil
}

func (e *exportWriter) close() error {
	if e.values != nil {
		return e.values.Close()
	}
	e.out.Flush()
	return e.out.Error()
}
