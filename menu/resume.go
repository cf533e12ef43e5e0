package menu

import (
	"strings"

	"rowbell/menu/text"
)

// doing has, for the first part of a screen's name, the text that says what the grower was doing. A dropped dialogue
// that is resumed begins with this text.
var doing = map[string]text.Key{
	"new": "resume.new", "change": "resume.change", "tell": "resume.change", "again": "resume.again",
	"fix":  "resume.change",
	"pass": "resume.pass", "see": "resume.see", "water": "resume.plot", "work": "resume.plot", "costs": "resume.plot",
	"hire": "resume.plot", "trial": "resume.plot", "close": "resume.plot", "planting": "resume.planting",
	"nursery": "resume.planting", "smith": "resume.tool", "check": "resume.tool", "stop": "resume.stop",
	"erase": "resume.erase", "circle": "resume.circle",
}

// resumePages asks whether to resume a dropped dialogue. The question that was open is part of the choice that leads
// back to it. Above the choices it would seem to be what 1 and 2 answer. If the question does not fit on the page, it
// is left out.
func (c *scene) resumePages(refused *Refusal) []string {
	head, goOn := c.wasDoing(), c.t("resume.go-on", nil)
	if refused != nil {
		head = stack(c.t(refused.Key, refused.Args), head)
	}
	page := func(goOn string) []string {
		return c.paginate([]string{head},
			[]string{GoOnKey + " " + goOn, restartKey + " " + c.t("resume.start-again", nil)}, "")
	}
	if q := c.openQuestion(); q != "" {
		if pages := page(c.t("resume.go-on-with", text.Args{"question": q})); len(pages) == 1 {
			return pages
		}
	}
	return page(goOn)
}

// wasDoing says what the grower was doing when the dialogue dropped.
func (c *scene) wasDoing() string {
	id := c.s.Screen
	for i := len(c.s.Trail) - 1; i >= 0 && (id == ScreenDoubt || id == ScreenLanguage); i-- {
		id = c.s.Trail[i]
	}
	family, _, _ := strings.Cut(string(id), ".")
	no := c.s.int(fPlot)
	switch k := doing[family]; {
	case k == "":
		return c.t("resume.head", nil)
	case k == "resume.new", k == "resume.planting", k == "resume.tool", k == "resume.stop", k == "resume.erase",
		k == "resume.circle":
		return c.t(k, nil)
	case no == 0:
		return c.t("resume.head", nil)
	default:
		return c.t(k, text.Args{"plot": c.label(no, c.plotNo(no).Plot)})
	}
}

// openQuestion returns the question of the screen without the sentences around it, or "" if the screen asks nothing. Of
// a doubt it returns the doubted value.
func (c *scene) openQuestion() string {
	if d := c.s.Doubt; d != nil && c.s.Screen == ScreenDoubt {
		return doubtTexts[d.About].Say(c, d.Kept) + "?"
	}
	rest := c.question(c.screen())
	first := ""
	for rest != "" {
		end := len(rest)
		for i, r := range rest {
			after := rest[i+len(string(r)):]
			if strings.ContainsRune(".?!\u0964", r) && (after == "" || after[0] == ' ') { // U+0964: danda
				end = len(rest) - len(after)
				break
			}
		}
		sentence := strings.TrimSpace(rest[:end])
		if strings.HasSuffix(sentence, "?") {
			return sentence
		}
		if first == "" {
			first = sentence
		}
		rest = rest[end:]
	}
	return first
}
