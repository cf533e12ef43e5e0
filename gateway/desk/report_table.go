package desk

import (
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/engine/picture"
	"rowbell/engine/report"
)

// sumTable is a table of the report. On the page and in the CSV it has the same rows.
type sumTable struct {
	Head []string
	Rows [][]cell
}

// mostRows is how many rows the page shows, so that it stays light. The CSV has all.
const mostRows = 20

// Shown returns the rows on the page.
func (t sumTable) Shown() [][]cell { return t.Rows[:min(mostRows, len(t.Rows))] }

// More returns how many rows only the CSV has.
func (t sumTable) More() int { return len(t.Rows) - len(t.Shown()) }

func (t *sumTable) add(cells ...cell) { t.Rows = append(t.Rows, cells) }

// cell is a value of a table, as people and as programs read it. A value that is not known is empty for programs.
type cell interface {
	String() string
	plain() string
	Words() bool // it is to be set as text, not as a number
}

type (
	word   string
	amount int64   // a number of things
	share  float64 // 0 to 1; below 0: not known
	hours  float64 // hours per hectare; 0: not known
	mean   float64 // a mean number of things; below 0: not known
	money  int64   // millionths of the currency's unit
	week   report.Week
)

const notKnown = "–"

func (w word) Words() bool { return w != "" }
func (amount) Words() bool { return false }
func (share) Words() bool  { return false }
func (hours) Words() bool  { return false }
func (mean) Words() bool   { return false }
func (money) Words() bool  { return false }
func (week) Words() bool   { return false }

func (w word) String() string   { return string(w) }
func (w word) plain() string    { return string(w) }
func (n amount) String() string { return picture.Decimal(float64(n)) }
func (n amount) plain() string  { return strconv.FormatInt(int64(n), 10) }

func (s share) String() string {
	if s < 0 {
		return notKnown
	}
	return fmt.Sprintf("%.0f%%", 100*float64(s))
}

func (s share) plain() string {
	if s < 0 {
		return ""
	}
	return fmt.Sprintf("%.3f", float64(s))
}

func (h hours) String() string {
	if h == 0 {
		return notKnown
	}
	return fmt.Sprintf("%.0f", float64(h))
}

func (h hours) plain() string {
	if h == 0 {
		return ""
	}
	return h.String()
}

func (m mean) String() string {
	if m < 0 {
		return notKnown
	}
	return fmt.Sprintf("%.1f", float64(m))
}

func (m mean) plain() string {
	if m < 0 {
		return ""
	}
	return fmt.Sprintf("%.2f", float64(m))
}

func (m money) String() string { return fmt.Sprintf("%d.%02d", m/1e6, m%1e6/1e4) }
func (m money) plain() string  { return strconv.FormatFloat(float64(m)/1e6, 'f', -1, 64) }

func (w week) monday() engine.Day { return report.Week(w).Monday() }
func (w week) String() string     { return strings.ReplaceAll(longDay(w.monday()), " ", "\u00a0") } // on one line
func (w week) plain() string      { return w.monday().String() }

// shareOf returns a part of a whole, or that it is not known.
func shareOf(n, all int64) share {
	if all == 0 {
		return -1
	}
	return share(float64(n) / float64(all))
}

// meanOf returns a mean, or that it is not known.
func meanOf(sum, n int64) mean {
	if n == 0 {
		return -1
	}
	return mean(float64(sum) / float64(n))
}
