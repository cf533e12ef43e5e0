package answer

import "regexp"

// Spacing is the distance from row to row and from plant to plant in a row, in cm. Hill is 0 if only Row was typed.
type Spacing struct{ Row, Hill float64 }

var spacingForm = regexp.MustCompile(`^` + numberForm + ` ?` + lengthUnit +
	`(?: ?(?:x|\*|×|х|-|/) ?|, | | ?(?:by|and) )` + numberForm + ` ?` + lengthUnit + `$`)

// fourDigits matches two lengths of two digits that are typed without a sign between them (2025).
var fourDigits = regexp.MustCompile(`^(\d\d)(\d\d)$`)

// ReadSpacing reads the distance from row to row and the distance from plant to plant: 20*25, 20 x 25 cm, 20 by 25. One
// number is the distance from row to row. A unit after the second number only is the unit of both. ReadSpacing corrects
// and doubts each length in the same way as CM. Four digits are read as two lengths, with the doubt Corrected, if both
// lengths are usual.
func ReadSpacing(s string) (Spacing, Doubt[Spacing], *Refusal) {
	entry := splitNumbers(inUnits(s))
	joined := fourDigits.FindStringSubmatch(entry)
	if joined != nil && RowSpacing.Usual.Contains(amount(joined[1])) && HillSpacing.Usual.Contains(amount(joined[2])) {
		return Spacing{amount(joined[1]), amount(joined[2])}, corrected[Spacing](), nil
	}
	f := spacingForm.FindStringSubmatch(entry)
	if f == nil {
		row, d, r := CM(s, RowSpacing)
		if r != nil && r.Key == "refuse.length" {
			r = Refuse("refuse.spacing", s, nil)
		}
		return Spacing{Row: row}, bothDoubts(Spacing{Row: row}, d, Doubt[float64]{}), r
	}
	if f[2] == "" {
		f[2] = f[4]
	}
	row, dRow, r := CM(f[1]+f[2], RowSpacing)
	if r != nil {
		return Spacing{}, Doubt[Spacing]{}, r
	}
	hill, dHill, r := CM(f[3]+f[4], HillSpacing)
	if r != nil {
		return Spacing{}, Doubt[Spacing]{}, r
	}
	return Spacing{row, hill}, bothDoubts(Spacing{row, hill}, dRow, dHill), nil
}

// bothDoubts joins the doubts about the two lengths of a spacing. It offers another spacing only if each doubted length
// has a likely other one.
func bothDoubts(s Spacing, row, hill Doubt[float64]) Doubt[Spacing] {
	switch {
	case row.Why == Corrected || hill.Why == Corrected:
		return corrected[Spacing]()
	case row.Why == NoDoubt && hill.Why == NoDoubt:
		return Doubt[Spacing]{}
	}
	offers := true
	for _, x := range []struct {
		d  Doubt[float64]
		cm *float64
	}{{row, &s.Row}, {hill, &s.Hill}} {
		switch {
		case x.d.Meant != nil:
			*x.cm = *x.d.Meant
		case x.d.Why != NoDoubt:
			offers = false
		}
	}
	return unusual(s, offers)
}
