package answer

import (
	"regexp"
	"strings"
)

// Dialled returns the entries that were dialled after a code: if the code is *123#, then *123*1*5# holds the entries 1
// and 5. The last # may be missing, because some networks leave it out. ok is false for the code alone and for any
// other code.
func Dialled(dialled, code string) (entries []string, ok bool) {
	base := strings.TrimSuffix(code, "#")
	path, ok := strings.CutPrefix(strings.TrimSpace(dialled), base+"*")
	path = strings.TrimSuffix(path, "#")
	if base == "" || !ok || path == "" || strings.Contains(path, "#") {
		return nil, false
	}
	return strings.Split(path, "*"), true
}

var dialledSide = regexp.MustCompile(`^[1-9]\d{0,3}(?:[.,]\d)?$`)

// DialledSides joins two entries that are the two sides of one field. In a dialled path the sides arrive as two
// entries, because the star between the sides also separates entries. If the first entry is longer than two characters,
// a second entry of one digit is not a side but the next choice.
func DialledSides(first, second string) (entry string, ok bool) {
	a, b := Clean(first), Clean(second)
	if !dialledSide.MatchString(a) || !dialledSide.MatchString(b) || len(a) > 2 && len(b) == 1 {
		return "", false
	}
	return a + "*" + b, true
}
