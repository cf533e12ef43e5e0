package menu

import (
	"slices"
	"strings"
)

// splitDial takes the entries out of a dialled path: *123*1*5# under the code
// *123# is 1, then 5. ok is false for the bare code and for any other code. A
// network may leave the last # out.
func splitDial(dialled, code string) (entries []string, ok bool) {
	base := strings.TrimSuffix(code, "#")
	path, ok := strings.CutPrefix(strings.TrimSpace(dialled), base+"*")
	path = strings.TrimSuffix(path, "#")
	if base == "" || !ok || path == "" || strings.Contains(path, "#") {
		return nil, false
	}
	return strings.Split(path, "*"), true
}

// nextOf takes the next entry off a dialled path. Where sides are asked for, two
// numbers are one entry: a path cannot hold the star between them. A choice on
// offer stays a choice, and so does one digit after an area.
func (c *scene) nextOf(path []string) (entry string, rest []string) {
	entry, rest = path[0], path[1:]
	screen := c.screen()
	if screen.Typed == nil || !screen.Typed.Sides || len(rest) == 0 {
		return entry, rest
	}
	a, b := clean(entry), clean(rest[0])
	choice := len(a) == 1 && slices.ContainsFunc(c.choices(screen), func(o Choice) bool { return o.Digit == a[0] })
	if choice || !sideForm.MatchString(a) || !sideForm.MatchString(b) || len(a) > 2 && len(b) == 1 {
		return entry, rest
	}
	return a + "*" + b, rest[1:]
}
