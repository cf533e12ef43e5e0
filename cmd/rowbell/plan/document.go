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

// A report is a list of sections, which are written as a table or as JSON. Lists
// of objects are written as JSON or CSV.

// Section is one subject of a report.
type Section struct {
	Title   string // above its rows; a section without a title is not indented
	Key     string // its member in the JSON; "" puts its members at the top level
	members Object
	blocks  [][]string // lines with tabs between their cells; the columns of each block are aligned
}

// Put adds a member to the JSON.
func (s *Section) Put(key string, v any) { s.members.Put(key, v) }

// PutSet adds a member to the JSON where it is not zero.
func (s *Section) PutSet(key string, v any) { s.members.PutSet(key, v) }

// Say adds a row to the table.
func (s *Section) Say(label, format string, args ...any) {
	s.Line(label + "\t" + fmt.Sprintf(format, args...))
}

// Line adds a line to the table, whose cells have tabs between them.
func (s *Section) Line(line string) {
	if len(s.blocks) == 0 {
		s.Align()
	}
	last := &s.blocks[len(s.blocks)-1]
	*last = append(*last, line)
}

// Align begins a block with columns of its own.
func (s *Section) Align() { s.blocks = append(s.blocks, nil) }

// onlyJSON drops the rows, where they are no longer of use to people.
func (s Section) onlyJSON() Section {
	s.blocks = nil
	return s
}

// Table writes sections, with an empty line between them. One without rows is
// left out.
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

// Put adds a member. What has a String method is written as a string.
func (o *Object) Put(key string, v any) {
	if s, ok := v.(fmt.Stringer); ok {
		v = s.String()
	}
	*o = append(*o, Member{key, v})
}

// PutSet adds a member that is not zero.
func (o *Object) PutSet(key string, v any) {
	switch v {
	case 0, 0.0, "", engine.Day(0):
		return
	}
	o.Put(key, v)
}

// Known is the object without the members that are nil.
func (o Object) Known() Object {
	return slices.DeleteFunc(slices.Clone(o), func(m Member) bool { return m.Value == nil })
}

// MarshalJSON is json.Marshaler.
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

// CSV writes objects that all have the members of like: a header line with their
// keys, then a line for each object. nil is an empty field.
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
