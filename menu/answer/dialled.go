package answer

import (
	"regexp"
	"strings"
)

// Dialled splits the entries off a dialled path: *123*1*5# under the code *123# is 1, then 5. A network may leave out
// the last #. ok is false for the bare code and for any other code.
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

// DialledSides joins two entries of a dialled path that are the sides of one field, since a path cannot hold the star
// between them. A single digit after a longer number is not a side but the next choice.
func DialledSides(first, second string) (entry string, ok bool) {
	a, b := Clean(first), Clean(second)
	if !dialledSide.MatchString(a) || !dialledSide.MatchString(b) || len(a) > 2 && len(b) == 1 {
		return "", false
	}
	return a + "*" + b, true
}
