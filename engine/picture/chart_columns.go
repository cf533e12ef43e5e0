package picture

import (
	"fmt"
	"io"

	"rowbell/engine"
)

// Columns is a chart of what happened in each week: a column a week, parted by series.
type Columns struct {
	Chart
	Series []string // names, at most MostSeries; the first is at the bottom of each column
	Weeks  []Column // in order of day; a week without a column stays empty
}

// Column is one week.
type Column struct {
	From   engine.Day // first day of the week
	Values []float64  // of each series, none negative
}

// WriteColumns writes the chart to w. It returns the error of w.
func WriteColumns(w io.Writer, k Columns) error { return k.draw().write(w) }

func (k Columns) draw() *chartCanvas {
	c := newChart(k.Chart)
	c.keys(k.Series)
	most := 0.0
	for _, week := range k.Weeks {
		most = max(most, total(week.Values))
	}
	s := scaleTo(most, true)
	c.axisLeft(s, k.Unit)
	days, x := c.weeks(len(k.Weeks), func(i int) engine.Day { return k.Weeks[i].From })
	width := x(daysOfWeek) - x(0)
	parts := make([]string, len(k.Series)) // one path for each series, because a page has to be light
	for _, week := range k.Weeks {
		below := 0.0
		for i, v := range week.Values {
			if v > 0 {
				top := c.heightOf(s, below+v)
				parts[i] += box(x(week.From)+width*shareOfGap/2, top, width*(1-shareOfGap), c.heightOf(s, below)-top)
				below += v
			}
		}
	}
	for i, d := range parts {
		if d != "" {
			c.addPath(path{D: d, Fill: chartFills[i], Stroke: colors.Ink, Width: segmentEdge})
		}
	}
	c.addRect(rect{X: c.left, Y: c.y + plotHeight - 0.5, W: c.edge - c.left, H: 1, Fill: colors.Ink})
	c.dates(days, func(i int) px { return x(days[i]) + width/2 })
	return c
}

// box returns the path of a rectangle.
func box(x, y, w, h px) string { return fmt.Sprintf("M%s %sh%sv%sh%sz", x, y, w, h, -w) }

// maxColumn is the greatest width of a week.
const maxColumn px = 36

// weeks returns the first days of all weeks between the first and the last of n, and a function that returns the x of
// the left edge of a week.
func (c *chartCanvas) weeks(n int, from func(i int) engine.Day) (days []engine.Day, x func(engine.Day) px) {
	first := engine.Day(0)
	if n > 0 {
		first = from(0)
		for d := first; d <= from(n-1); d += daysOfWeek {
			days = append(days, d)
		}
	}
	width := min(maxColumn, (c.edge-c.left)/px(max(1, len(days))))
	return days, func(d engine.Day) px { return c.left + width*px(d-first)/daysOfWeek }
}

func total(values []float64) (sum float64) {
	for _, v := range values {
		sum += v
	}
	return sum
}

// Line is a chart of one value over the weeks.
type Line struct {
	Chart
	Points []Point // in order of day; between two weeks that do not follow each other the line is broken
	Band   Band    // published values behind the line; the zero Band is none
}

// Point is the value of one week.
type Point struct {
	From  engine.Day
	Value float64
}

// Band is a range of published values with a name.
type Band struct {
	Name      string
	Low, High float64
}

// WriteLine writes the chart to w. It returns the error of w.
func WriteLine(w io.Writer, k Line) error { return k.draw().write(w) }

func (k Line) draw() *chartCanvas {
	c := newChart(k.Chart)
	most := k.Band.High
	for _, p := range k.Points {
		most = max(most, p.Value)
	}
	if k.Band.High > 0 {
		c.legendOf([]key{{k.Band.Name, bandFill}})
	}
	s := scaleTo(most, false)
	c.axisLeft(s, k.Unit)
	days, x := c.weeks(len(k.Points), func(i int) engine.Day { return k.Points[i].From })
	mid := func(d engine.Day) px { return (x(d) + x(d+daysOfWeek)) / 2 }
	if k.Band.High > 0 {
		top := c.heightOf(s, k.Band.High)
		c.addRect(rect{X: c.left, Y: top, W: c.edge - c.left, H: c.heightOf(s, k.Band.Low) - top, Fill: bandFill,
			Stroke: colors.SoftInk, Width: 0.5})
	}
	points := ""
	for i, p := range k.Points {
		if i > 0 && p.From != k.Points[i-1].From+daysOfWeek {
			c.addCurve(points, chartFills[0], 2, "")
			points = ""
		}
		points += lineTo(mid(p.From), c.heightOf(s, p.Value))
		c.dot(mid(p.From), c.heightOf(s, p.Value))
	}
	c.addCurve(points, chartFills[0], 2, "")
	c.addRect(rect{X: c.left, Y: c.y + plotHeight - 0.5, W: c.edge - c.left, H: 1, Fill: colors.Ink})
	c.dates(days, func(i int) px { return mid(days[i]) })
	return c
}

// bandFill is the colour of published values: a light grey, lighter than all of chartFills.
const bandFill = "#e6e6e6"
