package plan

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"rowbell/engine"
)

// The commands print a report as a list of sections (a table or JSON), or as a list of objects (JSON or CSV).

// Section is the part of a report about one subject.
type Section struct {
	Title  string     // line above the rows; without a title, the rows are not indented
	Key    string     // key of the section in the JSON; "" = the members are in the outermost JSON object
	Object            // members of the section in the JSON
	blocks [][]string // lines of cells separated by tabs; columns are aligned within a block
}

// Say adds a row: the label, then the formatted text, whose tabs separate further cells.
func (s *Section) Say(label, format string, args ...any) {
	s.Line(label + "\t" + fmt.Sprintf(format, args...))
}

// Line adds a line, whose tabs separate cells.
func (s *Section) Line(line string) {
	if len(s.blocks) == 0 {
		s.Align()
	}
	last := &s.blocks[len(s.blocks)-1]
	*last = append(*last, line)
}

// Lines returns the lines of the section.
func (s Section) Lines() []string { return slices.Concat(s.blocks...) }

// Align begins a new block, whose columns are aligned separately.
func (s *Section) Align() { s.blocks = append(s.blocks, nil) }

// onlyJSON removes the rows, so that the table for people leaves the section out, for example after the season.
func (s Section) onlyJSON() Section {
	s.blocks = nil
	return s
}

// Table writes the sections that have rows, separated by empty lines.
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

// Member is a key of an Object with its value.
type Member struct {
	Key   string
	Value any
}

// Put adds members, given as pairs of a key and a value. A value with a String method becomes a string.
func (o *Object) Put(pairs ...any) {
	for pair := range slices.Chunk(pairs, 2) {
		key, v := pair[0].(string), pair[1]
		if s, ok := v.(fmt.Stringer); ok {
			v = s.String()
		}
		*o = append(*o, Member{key, v})
	}
}

// PutSet adds members as Put does, but leaves out the members whose value is zero.
func (o *Object) PutSet(pairs ...any) {
	for pair := range slices.Chunk(pairs, 2) {
		switch pair[1] {
		case 0, 0.0, "", engine.Day(0):
		default:
			o.Put(pair...)
		}
	}
}

// Known returns a copy without the members whose value is nil.
func (o Object) Known() Object {
	return slices.DeleteFunc(slices.Clone(o), func(m Member) bool { return m.Value == nil })
}

// MarshalJSON writes the members in the order in which they were added.
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

// defused returns a text that a spreadsheet does not take for a formula. A phone number, masked or not, is none.
func defused(text string) string {
	if text == "" || !strings.ContainsRune("=+-@\t\r", rune(text[0])) || isNumber(text) {
		return text
	}
	return "'" + text
}

// isNumber reports whether a text has digits only, after a plus sign and with those left out that are masked.
func isNumber(text string) bool {
	return strings.Trim(strings.TrimPrefix(text, "+"), "0123456789…") == ""
}

// CSV writes a header with the keys of like, then a line for each object. Every object has the keys of like; nil
// becomes an empty field, and a text that begins like a formula gets an apostrophe before it. The first error of the
// objects ends it.
func CSV(w io.Writer, like Object, objects iter.Seq2[Object, error]) error {
	out := csv.NewWriter(w)
	header := make([]string, len(like))
	for i, m := range like {
		header[i] = m.Key
	}
	_ = out.Write(header) // Flush keeps the error
	for o, err := range objects {
		if err != nil {
			return err
		}
		fields := make([]string, len(o))
		for i, m := range o {
			switch v := m.Value.(type) {
			case nil:
			case float64:
				fields[i] = strconv.FormatFloat(v, 'f', -1, 64)
			case string:
				fields[i] = defused(v)
			default:
				fields[i] = fmt.Sprint(v)
			}
		}
		if err := out.Write(fields); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// JSON writes a value as indented JSON.
func JSON(w io.Writer, v any) error {
	b, err := indented("", v)
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// JSONList writes the object o as JSON does, with one more member: the list of the known members of the objects. It
// holds one of the objects at a time. The first error of the objects ends it.
func JSONList(w io.Writer, o Object, key string, objects iter.Seq2[Object, error]) error {
	o = append(o.Known(), Member{key, []Object{}})
	head, err := indented("", o)
	if err != nil {
		return err
	}
	head, end := bytes.TrimSuffix(head, []byte("]\n}\n")), "]\n}\n"
	out := bufio.NewWriter(w)
	_, _ = out.Write(head) // Flush returns the error
	separator := "\n    "
	for o, err := range objects {
		if err != nil {
			return errors.Join(err, out.Flush())
		}
		b, err := indented("    ", o.Known())
		if err != nil {
			return err
		}
		_, _ = out.WriteString(separator)
		_, _ = out.Write(bytes.TrimSuffix(b, []byte("\n")))
		separator, end = ",\n    ", "\n  ]\n}\n"
	}
	_, _ = out.WriteString(end)
	return out.Flush()
}

func indented(prefix string, v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent(prefix, "  ")
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return b.Bytes(), err
}
