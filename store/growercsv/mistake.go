package growercsv

import (
	"fmt"
	"strconv"
	"strings"
)

// maxListed is how many mistakes an error lists. The others are counted.
const maxListed = 20

// Mistake is why a cell or a row cannot be used.
type Mistake struct {
	Line   int    // number of the line in the file, starting at 1
	Column string // "" if the mistake is not in one column
	Reason string
}

// String returns the mistake as a line for the reader.
func (m Mistake) String() string {
	if m.Column == "" {
		return fmt.Sprintf("line %d: %s", m.Line, m.Reason)
	}
	return fmt.Sprintf("line %d, %s: %s", m.Line, m.Column, m.Reason)
}

// Mistakes is the error for a file with mistakes in its rows, in the order of the lines.
type Mistakes []Mistake

// Error counts the rows with mistakes and lists the first mistakes.
func (l Mistakes) Error() string {
	rows := map[int]bool{}
	for _, m := range l {
		rows[m.Line] = true
	}
	var s strings.Builder
	if len(rows) == 1 {
		s.WriteString("1 row cannot be used")
	} else {
		fmt.Fprintf(&s, "%d rows cannot be used", len(rows))
	}
	for _, m := range l[:min(len(l), maxListed)] {
		s.WriteString("\n  " + m.String())
	}
	if more := len(l) - maxListed; more > 0 {
		fmt.Fprintf(&s, "\n  and %d more", more)
	}
	return s.String()
}

// quote returns a cell in quotation marks for a mistake. A long one is shortened.
func quote(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}
