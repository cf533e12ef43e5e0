package answer

import (
	"regexp"

	"rowbell/engine"
	"rowbell/menu/text"
)

var inletForm = regexp.MustCompile(`^` + numberForm + ` ?l?(?: ?[*x×/] ?| )` + numberForm + ` ?s?$`)

// These are the limits for a measured inlet of water (judgement): the size of the bucket in litres, the time in seconds
// in which the inlet fills the bucket, and the flow in litres a second.
const (
	maxBucketL  = 1000
	maxBucketS  = 3600
	minInflowLS = 0.01 // a smaller flow would take weeks to flood a plot
)

// Inlet reads the litres that a bucket holds and the seconds in which the bucket fills (10*5, 10 5). Inlet returns
// litres a second.
func Inlet(s string) (float64, *Refusal) {
	f := inletForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return 0, Refuse("refuse.inlet", s, nil)
	}
	litres, seconds := amount(f[1]), amount(f[2])
	if !(litres > 0 && litres <= maxBucketL && seconds > 0 && seconds <= maxBucketS) {
		return 0, Refuse("refuse.inlet", s, nil)
	}
	ls := litres / seconds
	if !(ls >= minInflowLS && ls <= engine.MaxInflowLS) {
		return 0, Refuse("refuse.inlet-range", s, text.Args{"flow": oneDecimal(ls)})
	}
	return ls, nil
}
