package picture

import (
	"fmt"
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
)

// Okabe & Ito 2008, Color Universal Design, https://jfly.uni-koeln.de/color/: the table gives black 0,0,0, orange
// 230,159,0, yellow 240,228,66 and blue 0,114,178 (from memory).
func TestChartFillsAreThePublishedOnes(t *testing.T) {
	for i, rgb := range [...][3]uint8{{0, 114, 178}, {230, 159, 0}, {0, 0, 0}, {240, 228, 66}} {
		if want := fmt.Sprintf("#%02x%02x%02x", rgb[0], rgb[1], rgb[2]); chartFills[i] != want {
			t.Errorf("series %d has the colour %s, want %s", i, chartFills[i], want)
		}
	}
}

// The matrices that make of linear RGB what people see who lack one kind of cone: Machado, Oliveira & Fernandes 2009,
// A Physiologically-based Model for Simulation of Color Vision Deficiency, IEEE Transactions on Visualization and
// Computer Graphics 15(6):1291-1298, table 1, severity 1.0 (from memory).
var lacks = map[string][9]float64{
	"nothing": {1, 0, 0, 0, 1, 0, 0, 0, 1},
	"long waves": {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216,
		-0.003882, -0.048116, 1.051998},
	"middle waves": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413,
		-0.011820, 0.042940, 0.968881},
	"short waves": {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602,
		0.004733, 0.691367, 0.303900},
}

func seen(t *testing.T, hex string, m [9]float64) colorful.Color {
	t.Helper()
	c, err := colorful.Hex(hex)
	if err != nil {
		t.Fatal(err)
	}
	r, g, b := c.LinearRgb()
	return colorful.LinearRgb(m[0]*r+m[1]*g+m[2]*b, m[3]*r+m[4]*g+m[5]*b, m[6]*r+m[7]*g+m[8]*b).Clamped()
}

// White stays white for everybody: each row of a matrix adds up to 1.
func TestMatricesKeepWhite(t *testing.T) {
	for who, m := range lacks {
		for row := range 3 {
			if sum := m[3*row] + m[3*row+1] + m[3*row+2]; math.Abs(sum-1) > 1e-5 {
				t.Errorf("lacks %s: row %d adds up to %g", who, row, sum)
			}
		}
	}
}

// Any two series can be told apart by everybody, and on a grey print. A difference of 15 in CIELAB is several
// times one that is just seen, and 15 of lightness a step of a grey scale with seven steps (judgement).
func TestSeriesCanBeToldApart(t *testing.T) {
	const least, leastLight = 15, 15
	fills := append(chartFills[:], colors.Paper)
	for who, m := range lacks {
		for i, a := range fills {
			for _, b := range fills[:i] {
				if d := 100 * seen(t, a, m).DistanceLab(seen(t, b, m)); d < least {
					t.Errorf("lacks %s: %s and %s differ by %.0f", who, a, b, d)
				}
			}
		}
	}
	for i, a := range chartFills {
		for _, b := range chartFills[:i] {
			if d := math.Abs(light(t, a) - light(t, b)); d < leastLight {
				t.Errorf("in grey, %s and %s differ by %.0f", a, b, d)
			}
		}
	}
}

func light(t *testing.T, hex string) float64 {
	l, _, _ := seen(t, hex, lacks["nothing"]).Lab()
	return 100 * l
}

// WCAG 2.2, success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11 (graphics: 3 to 1). The edge of a bar, its lines and its
// dots are told from the paper; fills need not be, because of the edge. The formula is WCAG's relative luminance.
func TestContrastOfCharts(t *testing.T) {
	luminance := func(hex string) float64 {
		c, err := colorful.Hex(hex)
		if err != nil {
			t.Fatal(err)
		}
		r, g, b := c.LinearRgb()
		return 0.2126*r + 0.7152*g + 0.0722*b
	}
	contrast := func(a, b string) float64 {
		x, y := luminance(a), luminance(b)
		return (max(x, y) + 0.05) / (min(x, y) + 0.05)
	}
	// W3C's example: #777777 on white has 4.48 to 1 (Understanding SC 1.4.3).
	if got := contrast("#777777", "#ffffff"); math.Abs(got-4.48) > 0.005 {
		t.Fatalf("the formula gives %.3f", got)
	}
	for _, c := range []struct {
		what, a, b string
		least      float64
	}{
		{"text", colors.Ink, colors.Paper, 4.5},
		{"numbers", colors.SoftInk, colors.Paper, 4.5},
		{"the edge of a bar", colors.Ink, colors.Paper, 3},
		{"the edge of a bar on orange", colors.Ink, chartFills[1], 3},
		{"the edge of a bar on yellow", colors.Ink, chartFills[3], 3},
		{"a line", chartFills[0], colors.Paper, 3},
		{"a line on published values", chartFills[0], bandFill, 3},
	} {
		if got := contrast(c.a, c.b); got < c.least {
			t.Errorf("%s: %s on %s has a contrast of %.2f, want %g", c.what, c.a, c.b, got, c.least)
		}
	}
}
