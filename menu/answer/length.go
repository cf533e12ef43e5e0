package answer

import (
	"math"
	"regexp"

	"rowbell/engine"
)

// Length holds the limits for one kind of length, in cm.
type Length struct {
	Range       // a length outside From to To is refused
	Usual Range // most growers have such a length; a length outside Usual is doubted
}

// The menu asks for these lengths. The limits of what is usual are common practice, no source.
var (
	RowSpacing  = Length{Range{engine.MinSpacingCM, engine.MaxSpacingCM}, Range{15, 40}}
	HillSpacing = Length{Range{engine.MinSpacingCM, engine.MaxSpacingCM}, Range{10, 40}}
	ToolWidth   = Length{Range{engine.MinToolCM, engine.MaxToolCM}, Range{8, 30}}
)

const lengthUnit = `(cm|mm|m|in|ft)?`

var (
	lengthForm      = regexp.MustCompile(`^` + numberForm + ` ?` + lengthUnit + `$`)
	lengthRangeForm = regexp.MustCompile(`^` + numberForm + `(?: ?- ?| (?:to|or) )` + numberForm +
		` ?` + lengthUnit + `$`)

	widthsForm = regexp.MustCompile(`^` + numberForm + ` ?` + lengthUnit + `(?: ?(?:-|/|\*|to) ?|, | )` +
		numberForm + ` ?` + lengthUnit + `$`)
)

// inCM converts a length to cm. A length without a unit is already in cm.
func inCM(x float64, unit string) float64 {
	switch unit {
	case "m":
		return x * 100
	case "mm":
		return x / 10
	case "in":
		return x * cmPerInch
	case "ft":
		return x * cmPerFoot
	}
	return x
}

// CM reads a length in cm, to the nearest mm: 20, 20 cm, 0.2 m, 20,5. If a decimal number without a unit is within the
// limits only as metres (0.25), CM reads it as metres. If a number without a unit is outside the limits, and a tenth of
// the number or ten times the number is usual, CM returns that length with the doubt Corrected (250 is read as 25). CM
// also doubts a length that is not usual, and offers the length with its two digits swapped if that one is usual (25
// for 52). Of a range (20-25), CM returns one end and offers the other.
func CM(s string, l Length) (cm float64, d Doubt[float64], r *Refusal) {
	if cm, r = parseCM(s, l.Range); r == nil {
		return cm, l.doubt(cm), nil
	}
	if f := lengthRangeForm.FindStringSubmatch(inUnits(s)); f != nil {
		low, rLow := parseCM(f[1]+f[3], l.Range)
		high, rHigh := parseCM(f[2]+f[3], l.Range)
		if rLow == nil && rHigh == nil && low < high {
			return low, unusual(high, true), nil
		}
	}
	if meant, ok := l.tenfold(s, r, 1); ok {
		return meant, corrected[float64](), nil
	}
	return 0, d, r
}

// Gaps reads a length measured over several gaps between rows or plants and returns the length of one gap in cm, to the
// nearest mm. A length without a unit is in cm, or in m if it is out of range in cm. Gaps corrects and doubts the
// length of one gap in the same way as CM. The reason is that the grower may have measured one gap instead of ten, so
// that ten times the result is the right length.
func Gaps(s string, gaps int, l Length) (cm float64, d Doubt[float64], r *Refusal) {
	if cm, r = parseGaps(s, gaps, l.Range); r == nil {
		return cm, l.doubt(cm), nil
	}
	if meant, ok := l.tenfold(s, r, gaps); ok {
		return meant, corrected[float64](), nil
	}
	return 0, d, r
}

// tenfold returns the usual length that was likely meant by a number that was refused as out of range. tenfold reports
// false if the number has a unit.
func (l Length) tenfold(s string, r *Refusal, gaps int) (cm float64, ok bool) {
	if r.Key != "refuse.length-range" && r.Key != "refuse.gaps-range" {
		return 0, false
	}
	e, _ := withFractions(s)
	f := lengthForm.FindStringSubmatch(e)
	if f[2] != "" {
		return 0, false
	}
	return tenfold(amount(f[1])/float64(gaps), l.Usual)
}

// tenfold returns a tenth of x or ten times x, whichever is in the range usual. tenfold reports false if neither is. A
// number that is ten times too large or too small is typed if a grower leaves out the decimal point or means another
// unit.
func tenfold(x float64, usual Range) (float64, bool) {
	for _, y := range []float64{tenth(x / 10), tenth(x * 10)} {
		if usual.Contains(y) {
			return y, true
		}
	}
	return 0, false
}

// doubt returns the Doubt about an unusual length. The Doubt offers the length with its two digits swapped, if that
// length is usual.
func (l Length) doubt(cm float64) Doubt[float64] {
	if l.Usual.Contains(cm) {
		return Doubt[float64]{}
	}
	meant := swapped(cm)
	return unusual(meant, l.Usual.Contains(meant))
}

// swapped returns a two-digit number with its digits swapped. swapped returns 0 for any other number.
func swapped(x float64) float64 {
	n := int(x)
	if float64(n) != x || n < 10 || n > 99 || n%10 == 0 {
		return 0
	}
	return float64(n%10*10 + n/10)
}

func parseCM(s string, l Range) (float64, *Refusal) {
	e, _ := withFractions(s)
	f := lengthForm.FindStringSubmatch(e)
	if f == nil {
		return 0, Refuse("refuse.length", s, nil)
	}
	x := amount(f[1])
	cm := tenth(inCM(x, f[2]))
	if f[2] == "" && !l.Contains(cm) && x != math.Trunc(x) && l.Contains(tenth(x*100)) {
		cm = tenth(x * 100)
	}
	if !l.Contains(cm) {
		return 0, lengthRange(s, cm, l)
	}
	return cm, nil
}

func lengthRange(s string, cm float64, l Range) *Refusal {
	args := l.args()
	args["cm"] = oneDecimal(cm)
	return Refuse("refuse.length-range", s, args)
}

// parseGaps reads a length over several gaps. l holds the limits of one gap.
func parseGaps(s string, gaps int, l Range) (float64, *Refusal) {
	f := lengthForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return 0, Refuse("refuse.length", s, nil)
	}
	whole := inCM(amount(f[1]), f[2])
	each := tenth(whole / float64(gaps))
	if inM := whole * 100; f[2] == "" && !l.Contains(each) && l.Contains(tenth(inM/float64(gaps))) {
		whole, each = inM, tenth(inM/float64(gaps))
	}
	if !l.Contains(each) {
		all := Range{l.From * float64(gaps), l.To * float64(gaps)}.args()
		all["cm"], all["each"], all["gaps"] = oneDecimal(whole), oneDecimal(each), gaps
		return 0, Refuse("refuse.gaps-range", s, all)
	}
	return each, nil
}

// parseWidths reads two different widths: 10-15, 10 to 15, 10/15, 10 15. If only the second width has a unit, the unit
// applies to both widths.
func parseWidths(s string, l Range) (Range, *Refusal) {
	f := widthsForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return Range{}, Refuse("refuse.widths", s, nil)
	}
	if f[2] == "" {
		f[2] = f[4]
	}
	a, b := tenth(inCM(amount(f[1]), f[2])), tenth(inCM(amount(f[3]), f[4]))
	w := Range{min(a, b), max(a, b)}
	switch {
	case a == b:
		return Range{}, Refuse("refuse.widths", s, nil)
	case !l.Contains(w.From):
		return Range{}, lengthRange(s, w.From, l)
	case !l.Contains(w.To):
		return Range{}, lengthRange(s, w.To, l)
	}
	return w, nil
}
