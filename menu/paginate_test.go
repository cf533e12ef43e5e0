package menu

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestPagesLoseNothing checks random texts in several scripts. Every word and every choice must be on exactly one page,
// in the right order. Every page must be short enough to be shown whole (160 octets: TS 29.002 clause 17.7.4). Every
// page but the last must name the key for the next page.
func TestPagesLoseNothing(t *testing.T) {
	m := newMenu()
	rapid.Check(t, func(t *rapid.T) {
		ch := rapid.SampledFrom([]Channel{USSD, SMS}).Draw(t, "channel")
		c := m.scene(knownBook(), ch, &session{Screen: ScreenHome})
		c.lang = "en"
		word := rapid.SampledFrom([]string{"weed", "the", "rows,", "now.", "निराई", "करें।", "धान", "água", "maji",
			"[2-3]", "€"})
		sentence := func(name string, least, most int) string {
			return strings.Join(rapid.SliceOfN(word, least, most).Draw(t, name), " ")
		}
		prose := []string{sentence("head", 0, 60), sentence("question", 1, 20)}
		var lines []string
		for i := range rapid.IntRange(0, 6).Draw(t, "choices") {
			lines = append(lines, fmt.Sprintf("%d %s", i+1, sentence("label", 1, 4)))
		}
		keys := rapid.SampledFrom([]string{"", c.t("keys.back-home", nil)}).Draw(t, "keys")
		pages := c.paginate(prose, lines, keys)
		var words []string
		for i, page := range pages {
			if !c.fits(page) {
				t.Fatalf("page %d of %d has no room:\n%s", i+1, len(pages), page)
			}
			rows := strings.Split(page, "\n")
			switch last := rows[len(rows)-1]; {
			case i < len(pages)-1:
				if !strings.HasPrefix(last, MoreKey+" ") {
					t.Fatalf("page %d of %d does not say how to go on:\n%s", i+1, len(pages), page)
				}
				rows = rows[:len(rows)-1]
			case keys != "" || i > 0:
				rows = rows[:len(rows)-1]
			}
			words = append(words, strings.Fields(strings.Join(rows, " "))...)
		}
		want := strings.Fields(strings.Join(append(prose, lines...), " "))
		if !slices.Equal(words, want) {
			t.Fatalf("of\n%q\nthe pages show\n%q", want, words)
		}
	})
}

// TestTurningPages checks that 9 shows the next page and 0 the page before, that a choice works on every page, and that
// a refused entry shows the first page.
func TestTurningPages(t *testing.T) {
	m := newMenu()
	long := *m
	long.screens = map[ScreenID]*Screen{}
	for id, s := range m.screens {
		long.screens[id] = s
	}
	help := *m.screens["help"]
	help.Head = func(*scene) string { return strings.Repeat("Lift by the handle. ", 12) }
	long.screens["help"] = &help
	p := &phone{t: t, m: &long, b: knownBook()}
	p.dial("*123#").enter("6", "1").wants("Lift by the handle.", "9 more 0 back")
	if strings.Contains(p.last.Text, "1 ") {
		t.Errorf("the choices are on the first page:\n%s", p.last.Text)
	}
	first := p.last.Text
	p.plays("9 => 1  | 0 back 00 home")
	second := p.last.Text
	p.enter("0")
	if p.last.Text != first {
		t.Errorf("0 on the second page shows\n%s", p.last.Text)
	}
	q := *p
	q.enter("4") // a choice on a page that has not been shown yet works too
	q.wants("The teeth cut")
	p.enter("9")
	if p.last.Text != second {
		t.Errorf("9 again shows\n%s", p.last.Text)
	}
	p.plays("9 => Not 9")
	p.enter("0") // on the first page, 0 leads to the screen before
	p.wants("Help and more")
}
