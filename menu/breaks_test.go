package menu

import (
	"slices"

	"rowbell/menu/text"
)

// Breaks holds mistakes in the screens. Each mistake breaks one rule that package menu/proof checks.
// TestProofFindsWhatIsBroken makes each mistake in a menu, and the proof must report it.
var Breaks = map[string]func(*Menu){
	"a screen that leads nowhere": func(m *Menu) { m.screens["other.weeds"].Root = true },
	"a screen that nothing leads to": func(m *Menu) {
		m.screens["island"] = &Screen{ID: "island", Ask: "home.ask"}
		m.order = append(m.order, "island")
	},
	"a choice without a text": func(m *Menu) {
		home := m.screens[ScreenHome]
		home.Choices = slices.Clone(home.Choices)
		home.Choices[3].Label, home.Choices[3].Args = "language.name", text.Args{"name": ""}
	},
	"a value that is empty": func(m *Menu) {
		method := m.screens["new.method"]
		method.Ask, method.Args = "new.planted", func(*scene) text.Args { return text.Args{"when": ""} }
	},
	"a screen that shows nothing":               func(m *Menu) { m.screens["declined"].Ask = "" },
	"a screen that ends a dialogue unannounced": func(m *Menu) { m.screens["plots.none"].Last = true },
	"a language that does not lead back": func(m *Menu) {
		m.screens[ScreenLanguage].List = func(c *scene) []Choice {
			list := languages(c)
			for i := range list {
				list[i].To = ScreenHome
			}
			return list
		}
	},
	"too many choices": func(m *Menu) {
		home := m.screens[ScreenHome]
		home.Choices = append(slices.Clone(home.Choices), Choice{Label: "home.new", To: "new.method"})
	},
	"an answer that back forgets": func(m *Menu) {
		m.screens["new.method"].Choices[0].Prep = func(c *scene) *Refusal {
			c.s.Answers = nil
			c.s.put(fMethod, "1")
			return nil
		}
		m.screens["new.when"].Choices[0].Prep = func(c *scene) *Refusal { c.s.Answers = nil; return nil }
	},
	"a screen that a drop loses": func(m *Menu) {
		m.screens["new.rows"].Jump = nil
		m.screens["new.rows"].Head = func(c *scene) string {
			if c.s.Paused {
				c.s.Answers = nil
			}
			return ""
		}
		m.screens["new.rows"].Args = func(c *scene) text.Args {
			if c.s.Paused {
				c.s.Answers = nil
			}
			return nil
		}
	},
}
