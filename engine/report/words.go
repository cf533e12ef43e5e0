package report

import (
	"fmt"
	"math"
)

// few is up to how many things the exact numbers are said.
const few = 20

// parts are the fractions that are said in words, by their denominators.
var parts = []int{2, 3, 4, 5, 10}

var number = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}

// OfAll says how many of all things it is, to begin a sentence with, such as "About two of three passes". The name of
// the things is in the plural.
func OfAll(n, all int64, things string) string {
	share := float64(n) / float64(all)
	switch {
	case all == 0:
		return "No " + things
	case all == 1:
		return fmt.Sprintf("%d of 1 %s", n, things)
	case n == 0:
		return fmt.Sprintf("None of %d %s", all, things)
	case n == all:
		return fmt.Sprintf("All %d %s", all, things)
	case all <= few:
		return fmt.Sprintf("%d of %d %s", n, all, things)
	case share >= 0.96:
		return "Nearly all " + things
	case share <= 0.04:
		return "Hardly any " + things
	}
	top, bottom := fraction(share)
	if bottom == 2 {
		return "About half of the " + things
	}
	return fmt.Sprintf("About %s of %s %s", number[top], number[bottom], things)
}

// fraction returns the nearest of the fractions that are said in words; of several that are about as near, the one with
// the smallest denominator.
func fraction(share float64) (top, bottom int) {
	const same = 0.02 // half of what tenths tell apart, less a rounding
	off := math.Inf(1)
	for _, b := range parts {
		t := min(b-1, max(1, int(math.Round(share*float64(b)))))
		if d := math.Abs(share - float64(t)/float64(b)); d < off-same {
			top, bottom, off = t, b, d
		}
	}
	return top, bottom
}
