package menu

import (
	"regexp"

	"rowbell/engine"
)

// maxHeights is how many people one tool may be made for.
const maxHeights = 9

// People's heights as typed: feet and inches, metres and cm, or a number.
var (
	feetForm   = regexp.MustCompile(`^(\d) ?(?:feet|foot|ft|['’′])(?: ?(\d{1,2}) ?(?:inches\b|inch\b|in\b|["”″]|''|\b))?`)
	metreForm  = regexp.MustCompile(`^(\d) ?m ?(\d\d)\b`)
	heightForm = regexp.MustCompile(`^(\d{1,4}(?:[.,]\d{1,2})?)(?: ?(cm|mm|m))?\b`)
	nextForm   = regexp.MustCompile(`^(?: ?(?:[,;/+*&-]|and) ?| )`)
)

const (
	footCM     = 30.48
	inchCM     = 2.54
	inchesFoot = 12
)

var heightLimits = limits{engine.MinStatureCM, engine.MaxStatureCM}

// parseHeights reads how tall people are, in cm to the nearest mm: 165, 165 cm,
// 1.65, 1m65, 5ft4, 5'4", or several, as 165 150 or 165, 150. A bare number is
// in metres where only that can be. A comma with one or two digits behind it
// is the decimals' (1,65).
//
//	refuse.heights       read         not heights, or more than maxHeights
//	refuse.length-range  cm from to   a height, in cm, outside the limits
func parseHeights(s string) ([]float64, *Refusal) {
	var all []float64
	for rest := inUnits(s); ; {
		cm, read := readHeight(rest)
		if read == 0 || len(all) == maxHeights {
			return nil, refuse("refuse.heights", s, nil)
		}
		if !heightLimits.hold(cm) {
			return nil, lengthRange(s, cm, heightLimits)
		}
		all = append(all, cm)
		if rest = rest[read:]; rest == "" {
			return all, nil
		}
		rest = rest[len(nextForm.FindString(rest)):]
	}
}

// readHeight reads the height that s begins with, in cm, and how many octets
// it takes; 0: none.
func readHeight(s string) (cm float64, read int) {
	if f := feetForm.FindStringSubmatch(s); f != nil {
		inches := amount(f[2])
		if f[2] == "" {
			inches = 0
		}
		if inches >= inchesFoot {
			return 0, 0
		}
		return tenth(amount(f[1])*footCM + inches*inchCM), len(f[0])
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
	if f[2] == "" && !heightLimits.hold(cm) && heightLimits.hold(tenth(x*100)) {
		cm = tenth(x * 100)
	}
	return cm, len(f[0])
}
