package menu

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"rowbell/menu/text"
)

// limits bound a quantity; both ends are allowed.
type limits struct{ from, to float64 }

func (l limits) hold(x float64) bool { return x >= l.from && x <= l.to }

func (l limits) args() text.Args {
	return text.Args{"from": number(l.from), "to": number(l.to)}
}

// A number as typed: comma or point for the decimals.
const numberForm = `(\d{1,7}(?:[.,]\d{1,3})?|[.,]\d{1,3})`

const lengthUnit = `(cm|mm|m)?`

var lengthForm = regexp.MustCompile(`^` + numberForm + ` ?` + lengthUnit + `$`)

// amount reads what numberForm matched.
func amount(s string) float64 {
	x, err := strconv.ParseFloat(strings.Replace("0"+s, ",", ".", 1), 64)
	if err != nil {
		return math.NaN() // within no limits
	}
	return x
}

// tenth rounds to one decimal, as closely as a grower measures.
func tenth(x float64) float64 { return math.Round(x*10) / 10 }

// inCM is a length in cm; without a unit it is taken for cm already.
func inCM(x float64, unit string) float64 {
	switch unit {
	case "m":
		return x * 100
	case "mm":
		return x / 10
	}
	return x
}

// parseCM reads a length in cm, to the nearest mm: 20, 20 cm, 0.2 m, 20,5. A
// number with decimals that can only be metres (0.25) is taken for metres.
func parseCM(s string, l limits) (float64, *Refusal) {
	f := lengthForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return 0, refuse("refuse.length", s, nil)
	}
	x := amount(f[1])
	cm := tenth(inCM(x, f[2]))
	if f[2] == "" && !l.hold(cm) && x != math.Trunc(x) && l.hold(tenth(x*100)) {
		cm = tenth(x * 100)
	}
	if !l.hold(cm) {
		return 0, lengthRange(s, cm, l)
	}
	return cm, nil
}

// tenfold is the tenth of x or ten times x, where one of them is usual: a point
// left out, or another unit meant. Else 0.
func tenfold(x float64, usual limits) float64 {
	for _, y := range []float64{tenth(x / 10), tenth(x * 10)} {
		if usual.hold(y) {
			return y
		}
	}
	return 0
}

// likelyCM reads as parseCM does. A number without a unit that is outside l is
// taken for what tenfold makes of it: it must be asked back.
func likelyCM(s string, l, usual limits) (cm float64, guessed bool, r *Refusal) {
	if cm, r = parseCM(s, l); r == nil || r.Key != "refuse.length-range" {
		return cm, false, r
	}
	f := lengthForm.FindStringSubmatch(inUnits(s))
	if meant := tenfold(amount(f[1]), usual); f[2] == "" && meant > 0 {
		return meant, true, nil
	}
	return 0, false, r
}

// likelyGaps is the same over several gaps: one gap may have been measured, or
// mm typed.
func likelyGaps(s string, gaps int, l, usual limits) (cm float64, guessed bool, r *Refusal) {
	if cm, r = parseGaps(s, gaps, l); r == nil || r.Key != "refuse.gaps-range" {
		return cm, false, r
	}
	f := lengthForm.FindStringSubmatch(inUnits(s))
	if meant := tenfold(amount(f[1])/float64(gaps), usual); f[2] == "" && meant > 0 {
		return meant, true, nil
	}
	return 0, false, r
}

func lengthRange(s string, cm float64, l limits) *Refusal {
	args := l.args()
	args["cm"] = number(cm)
	return refuse("refuse.length-range", s, args)
}

// parseGaps reads a length measured over several gaps and returns one gap in
// cm, to the nearest mm; l are the limits of one gap. Without a unit the length
// is in cm, or in m where only that can be.
func parseGaps(s string, gaps int, l limits) (float64, *Refusal) {
	f := lengthForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return 0, refuse("refuse.length", s, nil)
	}
	whole := inCM(amount(f[1]), f[2])
	each := tenth(whole / float64(gaps))
	if inM := whole * 100; f[2] == "" && !l.hold(each) && l.hold(tenth(inM/float64(gaps))) {
		whole, each = inM, tenth(inM/float64(gaps))
	}
	if !l.hold(each) {
		all := limits{l.from * float64(gaps), l.to * float64(gaps)}.args()
		all["cm"], all["each"], all["gaps"] = number(whole), number(each), gaps
		return 0, refuse("refuse.gaps-range", s, all)
	}
	return each, nil
}

var widthsForm = regexp.MustCompile(`^` + numberForm + ` ?` + lengthUnit + `(?: ?(?:-|/|\*|to) ?|, | )` + numberForm + ` ?` + lengthUnit + `$`)

// likelyWidths is the same for two widths, both typed in one unit.
func likelyWidths(s string, l, usual limits) (from, to float64, guessed bool, r *Refusal) {
	if from, to, r = parseWidths(s, l); r == nil || r.Key != "refuse.length-range" {
		return from, to, false, r
	}
	f := widthsForm.FindStringSubmatch(inUnits(s))
	if f[2] != "" || f[4] != "" {
		return 0, 0, false, r
	}
	a, b := tenfold(amount(f[1]), usual), tenfold(amount(f[3]), usual)
	if a == 0 || b == 0 || a == b {
		return 0, 0, false, r
	}
	return min(a, b), max(a, b), true, nil
}

// parseWidths reads the narrowest and the widest setting of a tool, in cm:
// 10-15, 10 to 15, 10/15, 10 15. A unit after the second counts for both.
func parseWidths(s string, l limits) (from, to float64, r *Refusal) {
	f := widthsForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return 0, 0, refuse("refuse.widths", s, nil)
	}
	if f[2] == "" {
		f[2] = f[4]
	}
	from, to = tenth(inCM(amount(f[1]), f[2])), tenth(inCM(amount(f[3]), f[4]))
	if from > to {
		from, to = to, from
	}
	switch {
	case from == to:
		return 0, 0, refuse("refuse.widths", s, nil)
	case !l.hold(from):
		return 0, 0, lengthRange(s, from, l)
	case !l.hold(to):
		return 0, 0, lengthRange(s, to, l)
	}
	return from, to, nil
}
