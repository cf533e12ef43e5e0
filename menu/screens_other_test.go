package menu

import (
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/menu/text"
)

// TestHints checks in each language that a text that asks for a look tells of other work only on days on which it goes
// with the pass, never needs one segment more for it, and never repeats it after the work is past.
func TestHints(t *testing.T) {
	m := everyMenu()
	at := func(lang string, age engine.Day, kind engine.Kind) string {
		t.Helper()
		s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: wednesday - age,
			RowSpacingCM: 20, HillSpacingCM: 20}, Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(24, 32)}
		p := must(s.Plan(wednesday))
		p.Next.Opens, p.Next.Best, p.Next.Closes = wednesday+2, wednesday+3, wednesday+4
		return must(m.Ring(lang, Bell{No: 1, Season: s, Plan: p,
			Reminder: engine.Reminder{Kind: kind, Window: p.Next, On: wednesday}})).Text
	}
	for age, want := range map[engine.Day]text.Key{
		9: "", 14: "hint.fill-gaps", 17: "hint.top-dress", 22: "hint.top-dress", 30: "",
	} {
		for _, lang := range m.Languages() {
			got := at(lang, age, engine.KindPrepare)
			for _, k := range []text.Key{"hint.fill-gaps", "hint.top-dress"} {
				half := must(m.texts.Text(lang, k, nil))
				fits := m.Encode(lang, strings.TrimSuffix(got, " "+half)+" "+half)
				told := strings.HasSuffix(got, " "+half)
				switch {
				case told && k != want:
					t.Errorf("%s, day %d: %q tells of work that is not due", lang, age, got)
				case !told && k == want && fits.Segments <= MaxSegments(fits.Encoding.Alphabet, true):
					t.Errorf("%s, day %d: %q has room for %q", lang, age, got, half)
				case told && fits.Segments > MaxSegments(fits.Encoding.Alphabet, true):
					t.Errorf("%s, day %d: %q takes %d segments", lang, age, got, fits.Segments)
				}
			}
		}
	}
	if got := at("en", 17, engine.KindNudge); strings.Contains(got, "top-dress") {
		t.Errorf("a nudge tells of other work: %q", got)
	}
}

// TestEachOtherWorkHasItsTexts checks that each kind of other work can be told in each language. Many kinds are due on
// few days only, so that a walk through the menu does not meet them.
func TestEachOtherWorkHasItsTexts(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.Languages() {
		c := m.scene(knownBook(), USSD, &session{})
		c.lang = lang
		var told []string
		for k := engine.PuddleFirst; k <= engine.DrainHarvest; k++ {
			told = append(told, c.dueWork(engine.OtherWork{Kind: k, From: wednesday, To: wednesday + 5}))
			if k != engine.ToolCare { // it is due on the day of the pass and never comes
				told = append(told, c.t("other.name."+dashed(k.String()), nil))
			}
		}
		if c.err != nil || slices.Contains(told, "") {
			t.Errorf("%s: %v, %q", lang, c.err, told)
		}
	}
}
