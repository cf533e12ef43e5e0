package text

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	xlang "golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Decimal is a value with Places decimals at most, 0 to 9, written in the
// language's manner: "2,5" in French, "2.5" in English, "2" in both. No
// grouping.
type Decimal struct {
	Value  float64
	Places int
}

// decimalPoint is what stands before the decimals in a language, by Unicode
// CLDR. Digits are 0-9 in every language, as growers have to type them.
func decimalPoint(tag xlang.Tag) string {
	if latin, err := tag.SetTypeForKey("nu", "latn"); err == nil {
		tag = latin
	}
	return strings.Trim(message.NewPrinter(tag).Sprint(number.Decimal(1.5)), "15")
}

// number writes a value; halves are rounded away from zero.
func (l *language) number(d Decimal) (string, error) {
	if math.IsNaN(d.Value) || math.IsInf(d.Value, 0) || d.Places < 0 || d.Places > 9 {
		return "", fmt.Errorf("%v with %d decimals cannot be written: %w", d.Value, d.Places, ErrArg)
	}
	scale := math.Pow10(d.Places)
	x := d.Value
	if rounded := math.Round(x*scale) / scale; !math.IsInf(rounded, 0) {
		x = rounded
	}
	if x == 0 {
		x = 0 // no minus before it
	}
	return strings.Replace(strconv.FormatFloat(x, 'f', -1, 64), ".", l.point, 1), nil
}
