package roster

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"rowbell/store/weathercsv"
)

// row is one row of a file: where it is, and the fields that are not empty, by their columns.
type row struct {
	place
	fields map[string]string
}

// place is a line of one of the files.
type place struct{ file, line int }

// readTable reads the rows of a CSV file. The fields are separated by commas, semicolons or tabs; the first row has the
// names of the columns, of which all must be in columns. Empty rows and lines that begin with # are left out. A mistake
// in the form of the file ends the reading, and is returned with the rows before it.
func readTable(file int, r io.Reader, columns []string) ([]row, error) {
	text, err := weathercsv.ReadText(r, "plots and tools")
	if err != nil {
		return nil, err
	}
	for i, line := range bytes.Split(text, []byte("\n")) {
		if !utf8.Valid(line) {
			return nil, weathercsv.BadRows{{Line: i + 1, Reason: "this is not UTF-8; save the table as CSV in UTF-8"}}
		}
	}
	c := csv.NewReader(bytes.NewReader(text))
	c.Comma, c.Comment, c.FieldsPerRecord = separatorOf(text), '#', -1
	c.TrimLeadingSpace = c.Comma != '\t' // a tab is a space, too
	var names []string
	var rows []row
	for {
		fields, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return rows, formMistake(err)
		}
		line, _ := c.FieldPos(0)
		for i := range fields {
			fields[i] = strings.TrimSpace(fields[i])
		}
		switch empty := !slices.ContainsFunc(fields, func(f string) bool { return f != "" }); {
		case empty:
		case names == nil:
			if names, err = columnNames(fields, columns); err != nil {
				return nil, weathercsv.BadRows{{Line: line, Reason: err.Error()}}
			}
		default:
			r := row{place{file, line}, map[string]string{}}
			for i, f := range fields {
				if f == "" {
					continue
				}
				if i >= len(names) || names[i] == "" {
					return rows, weathercsv.BadRows{{Line: line, Reason: beyondColumns(f, i, c.Comma)}}
				}
				r.fields[names[i]] = f
			}
			rows = append(rows, r)
		}
	}
	if names == nil {
		return nil, fmt.Errorf("the file is empty: its first line must name the columns, such as %s",
			strings.Join(columns[:3], ","))
	}
	return rows, nil
}

// separatorOf returns what separates the fields: a semicolon or a tab if the row of column names has one.
func separatorOf(text []byte) rune {
	for line := range bytes.Lines(text) {
		switch line = bytes.TrimSpace(line); {
		case len(line) == 0, line[0] == '#':
			continue
		case bytes.ContainsRune(line, ';'):
			return ';'
		case bytes.ContainsRune(line, '\t'):
			return '\t'
		}
		break
	}
	return ','
}

// columnNames checks the names of the columns. A column without a name stays empty.
func columnNames(fields, columns []string) ([]string, error) {
	names := make([]string, len(fields))
	for i, f := range fields {
		name := strings.ReplaceAll(strings.ToLower(f), " ", "_")
		unit := slices.IndexFunc(columns, func(c string) bool { return strings.HasPrefix(c, name+"_") })
		switch {
		case name == "":
			continue
		case slices.Contains(columns, name) && slices.Contains(names, name):
			return nil, fmt.Errorf("there are two columns %s", name)
		case slices.Contains(columns, name):
			names[i] = name
		case unit >= 0:
			return nil, fmt.Errorf("column %s has no unit; write %s", f, columns[unit])
		default:
			return nil, fmt.Errorf("there is no column %s; there are %s", quote(f), strings.Join(columns, ", "))
		}
	}
	return names, nil
}

// beyondColumns is the mistake of a row with a field in a column without a name.
func beyondColumns(field string, at int, separator rune) string {
	s := fmt.Sprintf("%s is in column %d, which has no name in the first row", quote(field), at+1)
	if separator == ',' {
		s += "; write numbers with a point, or separate the fields by semicolons"
	}
	return s
}

// formMistake returns the error of encoding/csv in words for people.
func formMistake(err error) error {
	var wrong *csv.ParseError
	if !errors.As(err, &wrong) {
		return err
	}
	reason := wrong.Err.Error()
	switch {
	case errors.Is(err, csv.ErrQuote):
		reason = "a quotation mark is not closed, or there is something behind a closing quotation mark"
	case errors.Is(err, csv.ErrBareQuote):
		reason = "there is a quotation mark inside of a field; write it twice, and the field between quotation marks"
	}
	return weathercsv.BadRows{{Line: wrong.StartLine, Reason: reason}}
}

// quote returns a field in quotation marks for an error. A long field is shortened.
func quote(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
