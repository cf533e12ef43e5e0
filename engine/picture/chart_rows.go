package picture

import (
	"fmt"
	"io"
)

// Bars is a chart of rows with a bar each, parted by series.
type Bars struct {
	Chart
	Series []string // names, at most MostSeries; the first begins at the left
	Rows   []Bar
	// Shares makes all bars equally long: they show in which parts the values of a row are divided. The number behind a
	// bar is the share of the first series.
	Shares bool
}

// Bar is one row.
type Bar struct {
	Name   string
	Values []float64 // of each series, none negative
}

// WriteBars writes the chart to w. It returns the error of w.
func WriteBars(w io.Writer, k Bars) error { return k.draw().write(w) }

func (k Bars) draw() *chartCanvas {
	c := newChart(k.Chart)
	c.keys(k.Series)
	s, unit, widest := scale{percent, percent / 4}, "%", px(0)
	if !k.Shares {
		most := 0.0
		for _, row := range k.Rows {
			most = max(most, total(row.Values))
		}
		s, unit = scaleTo(most, true), k.Unit
	}
	for _, row := range k.Rows {
		widest = max(widest, textWidth(k.behind(row), chartText, false))
	}
	edge := c.edge
	c.names(k.Rows)
	c.edge -= widest + labelGap
	top := c.y
	for _, row := range k.Rows {
		lines, _ := wrap(row.Name, chartText, false, c.left-chartMargin-labelGap, 2)
		more := px(max(0, len(lines)-1)) * nameLine / 2 // above and below the bar
		c.y += barGap/2 + more
		c.bar(k, s, row)
		for i, line := range lines {
			c.addText(textLine{X: chartMargin, Y: c.y + barHeight/2 + 4 - more + px(i)*nameLine, Size: chartText,
				Text: line})
		}
		c.label(edge, c.y+barHeight/2+4, anchorEnd, k.behind(row))
		c.y += barHeight + barGap/2 + more
	}
	c.axisBelow(s, top, unit)
	return c
}

// nameLine is the distance of two lines of a name.
const nameLine px = 13

// names makes room for the names of the rows.
func (c *chartCanvas) names(rows []Bar) {
	widest := px(0)
	for _, row := range rows {
		widest = max(widest, textWidth(row.Name, chartText, false))
	}
	c.left = chartMargin + min(widest, mostNames) + labelGap
}

func (c *chartCanvas) bar(k Bars, s scale, row Bar) {
	all, from := total(row.Values), 0.0
	for i, v := range row.Values {
		if k.Shares && all > 0 {
			v = v / all * percent // in this order no share of tiny values overflows
		}
		if v > 0 {
			x := c.across(s, from)
			c.addRect(rect{X: x, Y: c.y, W: c.across(s, from+v) - x, H: barHeight, Fill: chartFills[i],
				Stroke: colors.Ink, Width: segmentEdge})
			from += v
		}
	}
}

// behind returns the number that is written behind a bar.
func (k Bars) behind(row Bar) string {
	all := total(row.Values)
	switch {
	case !k.Shares:
		return Decimal(all)
	case all == 0:
		return "–"
	}
	return fmt.Sprintf("%.0f%%", percent*row.Values[0]/all)
}

// Ranges is a chart of rows with a range of values each, from low to high, and a dot in between.
type Ranges struct {
	Chart
	Rows []Range
}

// Range is one row.
type Range struct {
	Name           string
	Low, Mid, High float64
	Published      bool // from a publication: a grey box without a dot
}

// WriteRanges writes the chart to w. It returns the error of w.
func WriteRanges(w io.Writer, k Ranges) error { return k.draw().write(w) }

func (k Ranges) draw() *chartCanvas {
	c := newChart(k.Chart)
	most := 0.0
	for _, row := range k.Rows {
		most = max(most, row.High)
	}
	s := scaleTo(most, false)
	for _, row := range k.Rows {
		lines, _ := wrap(row.Name, chartText, false, c.edge-chartMargin, 2)
		for _, line := range lines {
			c.y += lineOfText
			c.addText(textLine{X: chartMargin, Y: c.y - 2, Size: chartText, Text: line})
		}
		c.y += 3
		for _, v := range s.values() { // a line down the whole chart would cross the names
			c.addRect(rect{X: c.across(s, v) - 0.5, Y: c.y, W: 1, H: barHeight, Fill: colors.Border})
		}
		c.rangeOf(s, row)
		c.y += barHeight + barGap
	}
	c.axisBelow(s, c.y, k.Unit)
	return c
}

func (c *chartCanvas) rangeOf(s scale, row Range) {
	low, high, y := c.across(s, row.Low), c.across(s, row.High), c.y+barHeight/2
	text := fmt.Sprintf("%.0f to %.0f", row.Low, row.High)
	if row.Low == row.High {
		text = fmt.Sprintf("%.0f", row.Low)
	}
	if row.Published {
		low, high = low-1.5, high+1.5 // a single number is seen, too
		c.addRect(rect{X: low, Y: y - 6, W: high - low, H: 12, Fill: bandFill, Stroke: colors.Ink, Width: segmentEdge})
	} else {
		c.addLine(low, y, high, y, chartFills[0], 2.5, "")
		c.addLine(low, y-5, low, y+5, chartFills[0], 2.5, "")
		c.addLine(high, y-5, high, y+5, chartFills[0], 2.5, "")
		c.dot(c.across(s, row.Mid), y)
		text = fmt.Sprintf("%.0f (%s)", row.Mid, text)
	}
	width := textWidth(text, chartText, false)
	x := high + labelGap
	switch {
	case x+width <= c.edge:
	case low-labelGap-width >= chartMargin:
		x = low - labelGap - width
	default: // below a range that leaves no room
		c.y += lineOfText
		x, y = chartMargin, y+lineOfText
	}
	// The paper behind the text hides the lines of the scale.
	c.addRect(rect{X: x - 1, Y: y - barHeight/2 + 1, W: width + 2, H: barHeight - 2, Fill: colors.Paper})
	c.label(x, y+4, anchorStart, text)
}

// dot draws a dot with a light edge, so that it stands out from its line.
func (c *chartCanvas) dot(x, y px) {
	const r = px(4)
	c.Marks = append(c.Marks, path{D: fmt.Sprintf("M%s %sA%s %s 0 1 1 %s %sA%s %s 0 1 1 %s %sZ", x-r, y, r, r, x+r, y,
		r, r, x-r, y), Fill: chartFills[0], Stroke: colors.Paper, Width: 1})
}
