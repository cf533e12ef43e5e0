package answer

import (
	"math"
	"regexp"

	"rowbell/engine"
)

// minRoomCM is the least space, in cm, between the tool and the rice on each side. With less space, the tool's width or
// the row spacing is likely a typing mistake (judgement).
const minRoomCM = 1

// toolInches matches one width in inches. Of such a width, parts of half a cm are left out, because a tool of 6 inches
// is made for rows of 20 cm as one of 15 cm is (common practice, no source).
var toolInches = regexp.MustCompile(`^[^-/*]*\bin\b[^-/*]*$|^\S+in$`)

// Tool reads the width of a tool in cm, or the narrowest and the widest setting of an adjustable tool. For one width,
// both ends of the returned Range are equal. rowCM is the spacing of the rows between which the tool must go, or 0 if
// the question is about the tool alone. A tool that cannot go between these rows gets the doubt NoFit.
func Tool(s string, rowCM float64) (Range, Doubt[Range], *Refusal) {
	if w, d, r := AdjustableTool(s, rowCM); r == nil {
		return w, d, nil
	}
	cm, d, r := CM(s, ToolWidth)
	if r != nil {
		return Range{}, Doubt[Range]{}, r
	}
	if toolInches.MatchString(inUnits(s)) {
		cm = math.Floor(cm*2) / 2
	}
	w := Range{cm, cm}
	if d.Why != Corrected && tooWide(w, rowCM) {
		meant := swapped(cm)
		fits := ToolWidth.Usual.Contains(meant) && rowCM-meant >= 2*engine.SideClearanceCM
		return w, Doubt[Range]{NoFit, unusual(Range{meant, meant}, fits).Meant}, nil
	}
	whole := Doubt[Range]{Why: d.Why}
	if d.Meant != nil {
		whole.Meant = &Range{*d.Meant, *d.Meant}
	}
	return w, whole, nil
}

// AdjustableTool reads the narrowest and the widest setting of a tool, in cm: 10-15, 10 to 15, 10/15. AdjustableTool
// corrects two numbers without units in the same way as CM corrects one. Two widths with a comma or a point between
// them
// (10,15) have the doubt Corrected.
func AdjustableTool(s string, rowCM float64) (Range, Doubt[Range], *Refusal) {
	var sure Doubt[Range]
	if f := twoNumbersForm.FindStringSubmatch(Clean(s)); f != nil && ToolWidth.Usual.Contains(amount(f[1])) &&
		ToolWidth.Usual.Contains(amount(f[2])) && f[1] < f[2] { // 10,15: nobody measures a tool to a tenth of a mm
		w := Range{amount(f[1]), amount(f[2])}
		if tooWide(w, rowCM) {
			return w, Doubt[Range]{Why: NoFit}, nil
		}
		return w, corrected[Range](), nil
	}
	w, r := parseWidths(s, ToolWidth.Range)
	if r != nil {
		if meant, ok := tenfoldWidths(s, r); ok {
			return meant, corrected[Range](), nil
		}
		return Range{}, sure, r
	}
	switch {
	case tooWide(w, rowCM):
		return w, Doubt[Range]{Why: NoFit}, nil
	case !ToolWidth.Usual.Contains(w.From) || !ToolWidth.Usual.Contains(w.To):
		return w, Doubt[Range]{Why: Unusual}, nil
	}
	return w, sure, nil
}

func tooWide(w Range, rowCM float64) bool { return rowCM > 0 && rowCM-w.From < 2*minRoomCM }

// tenfoldWidths returns the usual widths that were likely meant by two numbers that were refused as out of range.
// tenfoldWidths reports false if one of the numbers has a unit.
func tenfoldWidths(s string, r *Refusal) (Range, bool) {
	if r.Key != "refuse.length-range" {
		return Range{}, false
	}
	f := widthsForm.FindStringSubmatch(inUnits(s))
	if f[2] != "" || f[4] != "" {
		return Range{}, false
	}
	a, okA := tenfold(amount(f[1]), ToolWidth.Usual)
	b, okB := tenfold(amount(f[3]), ToolWidth.Usual)
	return Range{min(a, b), max(a, b)}, okA && okB && a != b
}

// twoNumbersForm matches two lengths in whole cm with a comma or a point between them (20,25). It is not read as one
// number, because nobody measures rows to a hundredth of a cm.
var twoNumbersForm = regexp.MustCompile(`^(\d{2})[,.](\d{2})$`)

// tenfoldPair matches two spacings that are likely ten times too large: 200,250.
var tenfoldPair = regexp.MustCompile(`^(\d{3}),(\d{3})$`)

// Rows reads the row spacing for which a tool is ordered, in cm, or the narrowest and the widest of several spacings.
// For one spacing, both ends of the returned Range are equal.
func Rows(s string) (Range, Doubt[Range], *Refusal) {
	var sure Doubt[Range]
	s = splitNumbers(Clean(s))
	rows, r := parseWidths(s, RowSpacing.Range)
	if r != nil && r.Key == "refuse.length-range" {
		return Range{}, sure, r
	}
	if r != nil {
		cm, r := parseCM(s, RowSpacing.Range)
		if r != nil {
			return Range{}, sure, r
		}
		rows = Range{cm, cm}
	}
	usual := RowSpacing.Usual
	if usual.Contains(rows.From) && usual.Contains(rows.To) {
		return rows, sure, nil
	}
	a, b := unswapped(rows.From, usual), unswapped(rows.To, usual)
	return rows, unusual(Range{min(a, b), max(a, b)}, usual.Contains(a) && usual.Contains(b)), nil
}

// splitNumbers replaces the comma or point between two row spacings by a space. 22.50 stays one number, because 50 is
// no
// usual spacing.
func splitNumbers(s string) string {
	if f := tenfoldPair.FindStringSubmatch(s); f != nil {
		return f[1] + " " + f[2]
	}
	f := twoNumbersForm.FindStringSubmatch(s)
	if f == nil || !RowSpacing.Usual.Contains(amount(f[1])) || !HillSpacing.Usual.Contains(amount(f[2])) {
		return s
	}
	return f[1] + " " + f[2]
}

// unswapped returns a usual number unchanged. For any other number it returns the number with its two digits swapped,
// which was likely meant, or 0 if there are no two digits to swap.
func unswapped(x float64, usual Range) float64 {
	if usual.Contains(x) {
		return x
	}
	return swapped(x)
}
