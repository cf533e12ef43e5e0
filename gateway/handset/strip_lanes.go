package handset

import (
	"cmp"
	"slices"
	"strings"
)

// stripFlag is a label on a pole: the pole stands at X, the text begins at
// its foot and flies to the right of it.
type stripFlag struct {
	X    stripPX
	W    stripPX // of the text, with the gap to the pole
	Text string
	Bold bool
	Lane int // 0 is nearest to the thing that is labelled
}

// stripGap is kept free to the right of a flag.
const stripGap = 10

// stripLanes puts flags into lanes so that no text lies on another, and no
// pole runs through a text. Flags are taken from right to left: one whose text
// reaches the pole of another must fly beyond that one's lane, where that pole
// does not come. So there is always a lane, and a flag that meets nobody stays
// in lane 0. It returns the number of lanes.
func stripLanes(flags []stripFlag) int {
	slices.SortStableFunc(flags, func(a, b stripFlag) int { return cmp.Compare(a.X, b.X) })
	lanes := 0
	for i := len(flags) - 1; i >= 0; i-- {
		f := &flags[i]
		f.Lane = 0
		for _, right := range flags[i+1:] {
			if right.X < f.X+f.W+stripGap {
				f.Lane = max(f.Lane, right.Lane+1)
			}
		}
		lanes = max(lanes, f.Lane+1)
	}
	return lanes
}

// stripWidth is how wide a text is at most: by the widths of a wide sans
// serif, so that narrower fonts only leave more room.
func stripWidth(text string, size stripPX, bold bool) stripPX {
	em := 0.0
	for _, r := range text {
		switch {
		case strings.ContainsRune("ijl'|", r):
			em += 0.29
		case strings.ContainsRune(" .,:;ftI-()[]/!", r):
			em += 0.40
		case strings.ContainsRune("rs", r):
			em += 0.53
		case strings.ContainsRune("mwMW%@", r):
			em += 0.99
		case r >= 'A' && r <= 'Z':
			em += 0.75
		case r < 0x250:
			em += 0.64
		default:
			em++
		}
	}
	if bold {
		em *= 1.13
	}
	return stripPX(em) * size
}

// stripCut shortens a text to a width, with a mark that it goes on.
func stripCut(text string, size stripPX, bold bool, width stripPX) string {
	if stripWidth(text, size, bold) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && stripWidth(string(runes)+"…", size, bold) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}
