package answer

import (
	"regexp"

	"rowbell/engine"
)

// MaxHeights is the largest number of people for whom one tool may be made.
const MaxHeights = 9

// These expressions match a person's height in three forms: feet and inches; metres and cm; one number.
var (
	feetForm = regexp.MustCompile(
		`^(\d) ?(?:feet|foot|ft|['’′])(?: ?(\d{1,2}) ?(?:inches\b|inch\b|in\b|["”″]|''|\b))?`)
	metreForm  = regexp.MustCompile(`^(\d) ?m ?(\d\d)\b`)
	heightForm = regexp.MustCompile(`^(\d{1,4}(?:[.,]\d{1,2})?)(?: ?(cm|mm|m))?\b`)
	nextForm   = regexp.MustCompile(`^(?: ?(?:[,;/+*&-]|and) ?| )`) // the separator between two heights
)

const (
	cmPerFoot     = 30.48
	cmPerInch     = 2.54
	inchesPerFoot = 12
)

var heightLimits = Range{engine.MinStatureCM, engine.MaxStatureCM}

// Heights reads how tall one or several people are, in cm to the nearest mm. One height is typed as 165, 165 cm, 1.65,
// 1m65, 5ft4 or 5'4"; two heights as 165 150 or 165, 150. A number without a unit is in cm, or in metres if it is out
// of range in cm. A comma directly followed by one or two digits is a decimal comma (1,65).
func Heights(s string) ([]float64, *Refusal) {
	var all []float64
	for rest := inUnits(s); ; {
		cm, read := readHeight(rest)
		if read == 0 || len(all) == MaxHeights {
			return nil, Refuse("refuse.heights", s, nil)
		}
		if !heightLimits.Contains(cm) {
			return nil, lengthRange(s, cm, heightLimits)
		}
		all = append(all, cm)
		if rest = rest[read:]; rest == "" {
			return all, nil
		}
		rest = rest[len(nextForm.FindString(rest)):]
	}
}

// readHeight reads the first height in s. readHeight returns the height in cm, and the number of bytes of s that it has
// read. read is 0 if s does not begin with a height.
func readHeight(s string) (cm float64, read int) {
	if f := feetForm.FindStringSubmatch(s); f != nil {
		inches := amount(f[2])
		if f[2] == "" {
			inches = 0
		}
		if inches >= inchesPerFoot {
			return 0, 0
		}
		return tenth(amount(f[1])*cmPerFoot + inches*cmPerInch), len(f[0])
	}
	if f := metreForm.FindStringSubmatch(s); f != nil {
		return amount(f[1])*100 + amount(f[2]), len(f[0])
	}
	f := heightForm.FindStringSubmatch(s)
	if f == nil {
		return 0, 0
	}
	x := amount(f[1])
	cm = tenth(inCM(x, f[2]))
	if f[2] == "" && !heightLimits.Contains(cm) && heightLimits.Contains(tenth(x*100)) {
		cm = tenth(x * 100)
	}
	return cm, len(f[0])
}
