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

// DialledSides joins two dialled entries that are the two sides of one field: after *20*30 it returns 20*30. The
// entries arrive separately, because Dialled cuts at every star. ok is false if an entry is not a side. ok is also
// false if the first entry is longer than two characters and the second has one digit: in *600*5 the 600 is an area,
// and the 5 is the answer to the next question.
func DialledSides(first, second string) (entry string, ok bool) {
	a, b := Clean(first), Clean(second)
	if !dialledSide.MatchString(a) || !dialledSide.MatchString(b) || len(a) > 2 && len(b) == 1 {
		return "", false
	}
	return a + "*" + b, true
}
