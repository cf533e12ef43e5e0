package plan

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"text/tabwriter"

	"rowbell/engine"
)

// A report is a list of sections, which is written as a table or as JSON. A list of objects is written as JSON or
// CSV.

// Section is one subject of a report.
type Section struct {
	Title  string     // above its rows; the rows of a section without a title are not indented
	Key    string     // the member that holds the section in the JSON; "" = its members stand at the top level
	Object            // its members in the JSON
	blocks [][]string // lines with tabs between their cells; the columns of each block are aligned
}

// Say adds a row to the table: a cell with the label, and a cell or more with the formatted text.
func (s *Section) Say(label, format string, args ...any) {
	s.Line(label + "\t" + fmt.Sprintf(format, args...))
}

// Line adds a line to the table. The cells of the line have tabs between them.
func (s *Section) Line(line string) {
	if len(s.blocks) == 0 {
		s.Align()
	}
	last := &s.blocks[len(s.blocks)-1]
	*last = append(*last, line)
}

// Align begins a new block, whose columns are aligned apart from those of the lines before.
func (s *Section) Align() { s.blocks = append(s.blocks, nil) }

// onlyJSON removes the rows of a section that is of no use to people any more, and keeps its members.
func (s Section) onlyJSON() Section {
	s.blocks = nil
	return s
}

// Table writes sections with an empty line between two of them. A section without rows is left out.
func Table(w io.Writer, sections ...Section) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	first := true
	for _, s := range sections {
		if len(s.blocks) == 0 {
			continue
		}
		if !first {
			fmt.Fprintln(t)
		}
		first = false
		indent := ""
		if s.Title != "" {
			fmt.Fprintln(t, s.Title)
			indent = "  "
		}
		for _, block := range s.blocks {
			for _, line := range block {
				fmt.Fprintf(t, "%s%s\n", indent, line)
			}
			if err := t.Flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// Object is a JSON object whose members keep their order.
type Object []Member

// Member is a member of an Object.
type Member struct {
	Key   string
	Value any
}

// Put adds members, given as pairs of a key and a value. A value with a String method is written as a string.
func (o *Object) Put(pairs ...any) {
	for pair := range slices.Chunk(pairs, 2) {
		key, v := pair[0].(string), pair[1]
		if s, ok := v.(fmt.Stringer); ok {
			v = s.String()
		}
		*o = append(*o, Member{key, v})
	}
}

// PutSet adds those members, given as for Put, whose value is not zero.
func (o *Object) PutSet(pairs ...any) {
	for pair := range slices.Chunk(pairs, 2) {
		switch pair[1] {
		case 0, 0.0, "", engine.Day(0):
		default:
			o.Put(pair...)
		}
	}
}

// Known returns the object without the members whose value is nil.
func (o Object) Known() Object {
	return slices.DeleteFunc(slices.Clone(o), func(m Member) bool { return m.Value == nil })
}

// MarshalJSON writes the members in their order.
func (o Object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	for i, m := range o {
		b.WriteByte("{,"[min(i, 1)])
		if err := e.Encode(m.Key); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		if err := e.Encode(m.Value); err != nil {
			return nil, err
		}
	}
	if len(o) == 0 {
		b.WriteByte('{')
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// CSV writes objects that all have the keys of like: a header line with the keys, then a line for each object. A nil
// value is an empty field.
func CSV(w io.Writer, like Object, objects []Object) error {
	header := make([]string, len(like))
	for i, m := range like {
		header[i] = m.Key
	}
	records := [][]string{header}
	for _, o := range objects {
		fields := make([]string, len(o))
		for i, m := range o {
			switch v := m.Value.(type) {
			case nil:
			case float64:
				fields[i] = strconv.FormatFloat(v, 'f', -1, 64)
			default:
				fields[i] = fmt.Sprint(v)
			}
		}
		records = append(records, fields)
	}
	return csv.NewWriter(w).WriteAll(records)
}

// JSON writes a value, indented.
func JSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
