package practice

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// choose dials on a phone the answers with these labels one after the other.
func (r *room) choose(t *testing.T, phone string, labels ...string) {
	t.Helper()
	screen, err := r.handset.Dial(t.Context(), phone, "")
	ok(t, err)
	for _, label := range labels {
		choice := regexp.MustCompile(`(?m)^(\d) ` + regexp.QuoteMeta(label) + `\s*$`)
		found := choice.FindStringSubmatch(screen.Text)
		if found == nil {
			screen, err = r.handset.Call(t.Context(), phone, "9")
			ok(t, err)
			found = choice.FindStringSubmatch(screen.Text)
		}
		if found == nil {
			t.Fatalf("no choice %q on the screen:\n%s", label, screen.Text)
		}
		screen, err = r.handset.Call(t.Context(), phone, found[1])
		ok(t, err)
	}
}

// circleState has the turns and the number of texts of each member of the circle, by name.
func (r *room) circleState(t *testing.T) (c circle.Circle, turns map[string][]circle.HeldTurn, texts map[string]int) {
	t.Helper()
	turns, texts = map[string][]circle.HeldTurn{}, map[string]int{}
	c, in, err := r.Circle(t.Context(), circleGrowers()[0].phone.E164())
	ok(t, err)
	if !in || len(c.Members) != 5 {
		t.Fatalf("the circle is %+v", c)
	}
	for _, m := range c.Members {
		for _, turn := range c.Turns {
			if turn.Member == m.ID {
				turn.FetchFrom, turn.HandTo, turn.Told = 0, 0, false
				turns[m.Name] = append(turns[m.Name], turn)
			}
		}
		all, err := r.Texts(t.Context(), m.Phone)
		ok(t, err)
		texts[m.Name] = len(all)
	}
	return c, turns, texts
}

// On any first day, each member of the circle was told a turn inside the window. When a tool breaks, some turns move.
// Those whose turns moved get a text, and the others none.
func TestToolBreaksOnAnyDay(t *testing.T) {
	for _, day := range []engine.Day{firstDay, engine.Date(2026, time.September, 11),
		engine.Date(2026, time.December, 29)} {
		for _, tool := range circleTools() {
			r := openOn(t, day)
			c, before, texts := r.circleState(t)
			for _, turn := range c.Turns {
				if !turn.Told || turn.Late {
					t.Errorf("%s: a turn that was not told, or is late: %+v", day, turn)
				}
			}
			r.choose(t, c.Members[1].Phone, "tool and planting", "circle: share tools", "tools", tool.Name+", 15 cm",
				"it is broken", "yes")
			_, after, now := r.circleState(t)
			var moved, told []string
			for _, m := range c.Members {
				if !slices.Equal(before[m.Name], after[m.Name]) {
					moved = append(moved, m.Name)
				}
				if now[m.Name] != texts[m.Name] {
					told = append(told, m.Name)
				}
			}
			if len(before) != 5 || len(moved) == 0 || len(moved) == 5 || !slices.Equal(moved, told) {
				t.Errorf("%s: without %s the turns of %q moved, texts went to %q; turns of %v before", day, tool.Name,
					moved, told, slices.Sorted(maps.Keys(before)))
			}
			r.mended(t, c.Members[4].Phone, tool.Name)
		}
	}
}

// mended says on another phone that the tool can be used again. It gets turns again.
func (r *room) mended(t *testing.T, phone, tool string) {
	t.Helper()
	r.choose(t, phone, "tool and planting", "circle: share tools", "tools", tool+", 15 cm, broken", "it is repaired",
		"yes")
	ok(t, r.NextDay(t.Context()))
	c, _, _ := r.circleState(t)
	if slices.ContainsFunc(c.Tools, func(t circle.SharedTool) bool { return t.Broken }) || len(c.Turns) < 4 {
		t.Errorf("%s is mended: tools %+v, turns %+v", tool, c.Tools, c.Turns)
	}
}

// The terminal lists the turns of the circle and what its members were told, as the page does.
func TestCircleOnATerminal(t *testing.T) {
	out, _, err := onTerminal(t, "circle\nphone 9\ncircle\ndial\n5\n1\n3\n2\n1\n1\ncircle\n", "", firstDay)
	ok(t, err)
	rest := out
	for _, want := range []string{"in no circle", "5 growers share 2 tools", "Kofi  Red, 3 Jun to 4 Jun",
		"Text about turns on 1 Jun: to Kofi, Musa; not to Imani, Jaya, Lina.",
		"Red is broken", "Kofi  Blue, 8 Jun to 9 Jun (late)", "your turn moves to Mon 8 Jun"} {
		_, after, found := strings.Cut(strings.Join(strings.Fields(rest), " "), strings.Join(strings.Fields(want), " "))
		if !found {
			t.Fatalf("no %q, in its place, in:\n%s", want, out)
		}
		rest = after
	}
}
