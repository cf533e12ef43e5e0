package push

import "errors"

// outcome is how a try ended, as it is counted.
func outcome(err error) string {
	var no *Refusal
	switch {
	case err == nil:
		return "taken"
	case !errors.As(err, &no): // no answer was heard
		return "unsure"
	case no.Unsure:
		return "unsure"
	case no.Number:
		return "number"
	case no.Again:
		return "again"
	}
	return "never"
}
