package menu

import (
	"math"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// doubt is about an entry that was understood but is likely a typing mistake, such as 52 for 25. The menu asks whether
// the entry is right, and the grower answers with one digit. A saved session holds the values of a doubt and not its
// words, because the grower may change the language before the answer.
type doubt struct {
	About doubtKind        `json:"k"`
	Kept  map[Field]string `json:"a"`           // answers that are stored if the grower says that the entry is right
	Mend  map[Field]string `json:"m,omitempty"` // answers if the entry was a mistake; nil: no other value to offer
}

// doubtKind names a kind of doubt in a saved session. "" means that there is no doubt.
type doubtKind string

const (
	doubtRow      doubtKind = "row"
	doubtHill     doubtKind = "hill"
	doubtSpacing  doubtKind = "spacing"
	doubtRows     doubtKind = "rows" // narrowest and widest row spacing
	doubtTool     doubtKind = "tool"
	doubtFit      doubtKind = "fit" // the tool does not fit between the rows
	doubtArea     doubtKind = "area"
	doubtSides    doubtKind = "sides"
	doubtHours    doubtKind = "hours"
	doubtDayHours doubtKind = "dayhours"
	// These two are about hours that may be hours and minutes: 2.30.
	doubtMinutes    doubtKind = "minutes"
	doubtDayMinutes doubtKind = "dayminutes"
)

// corrected is the kind of doubt for an entry that the parser replaced by the value that was likely meant (250 cm was
// read as 25 cm). The question only asks whether that value is right, and gives no reason.
func corrected(k doubtKind) doubtKind { return k + ".read" }

// doubtDay is the kind of doubt about the date in the field f. doubtYear is the kind of doubt about a date whose typed
// year was replaced by a likelier year.
func doubtDay(f Field) doubtKind  { return "day." + doubtKind(f) }
func doubtYear(f Field) doubtKind { return "year." + doubtKind(f) }

// doubtText is how the menu asks about a kind of doubt.
type doubtText struct {
	Ask text.Key                                        // the question, in which {it} is the doubted value
	Say func(c *scene, answers map[Field]string) string // writes the doubted value in words
}

var doubtTexts = func() map[doubtKind]doubtText {
	texts := map[doubtKind]doubtText{
		doubtRow:             {"doubt.row", sayCM(fRow)},
		corrected(doubtRow):  {"doubt.right", sayCM(fRow)},
		doubtHill:            {"doubt.right", sayCM(fHill)},
		corrected(doubtHill): {"doubt.right", sayCM(fHill)},
		doubtSpacing:         {"doubt.right", saySpacing},
		doubtRows:            {"doubt.row", sayRange(fRow, fRowMax)},
		doubtTool:            {"doubt.right", sayRange(fTool, fToolMax)},
		doubtFit:             {"doubt.fit", sayFit},
		doubtArea:            {"doubt.right", sayArea},
		doubtSides:           {"doubt.right", saySides},
		doubtHours:           {"doubt.right", sayHours(fHours)},
		doubtDayHours:        {"doubt.right", sayHours(fDayHours)},
		doubtMinutes:         {"doubt.right", sayMinutes(fHours)},
		doubtDayMinutes:      {"doubt.right", sayMinutes(fDayHours)},
	}
	for _, f := range []Field{fPlanted, fOn, fSown, fDay} {
		texts[doubtDay(f)] = doubtText{"doubt.right", sayDay(f)}
		texts[doubtYear(f)] = doubtText{"doubt.right", sayYear(f)}
	}
	return texts
}()

// doubted says that a reader function doubts an entry. The zero value means that the entry is not doubted.
type doubted struct {
	about doubtKind
	mend  map[Field]string // answers if the entry was a mistake; nil: no other value to offer
}

// doubtAbout converts a doubt of package answer into a doubt of kind k. If d.Meant holds a value that was likely meant,
// the parameter fields converts this value into answers of the session.
func doubtAbout[T any](k doubtKind, d answer.Doubt[T], fields func(T) map[Field]string) doubted {
	switch {
	case d.Why == answer.NoDoubt:
		return doubted{}
	case d.Meant == nil:
		return doubted{about: k}
	}
	return doubted{about: k, mend: fields(*d.Meant)}
}

// ScreenDoubt is the screen that asks whether a doubted entry is right.
const ScreenDoubt ScreenID = "doubt"

func doubtScreens() []Screen { return []Screen{{ID: ScreenDoubt, Head: doubtHead, List: doubtChoices}} }

// askDoubt shows the screen that asks whether a doubted entry is right. The session gets back its answers from before
// the entry. The answers of the entry are stored only after the grower has confirmed them or has chosen the other value
// that is offered.
func (c *scene) askDoubt(before *session, what doubted) {
	d := &doubt{About: what.about, Kept: c.s.Answers}
	if what.mend != nil {
		m := c.s.clone()
		m.putAll(what.mend)
		d.Mend = m.Answers
	}
	c.s.Answers, c.s.Doubt = before.Answers, d
	c.s.push(c.s.Screen)
	c.s.Screen = ScreenDoubt
}

func doubtHead(c *scene) string {
	d := c.s.Doubt
	if d == nil {
		return ""
	}
	kind := doubtTexts[d.About]
	return c.t(kind.Ask, text.Args{"it": kind.Say(c, d.Kept)})
}

// doubtChoices offers 1 to keep the typed entry and 2 to take the value that was likely meant. If a tool does not go
// between the rows, the rows may be wrong, so another choice leads to the question about them. The back key leads to
// the question, where the grower can type again.
func doubtChoices(c *scene) []Choice {
	d := c.s.Doubt
	if d == nil {
		return nil
	}
	say := doubtTexts[d.About].Say
	out := []Choice{{Label: "doubt.keep", Args: text.Args{"it": say(c, d.Kept)}, Set: d.Kept}}
	if d.Mend != nil {
		out = append(out, Choice{Label: "doubt.mend", Args: text.Args{"it": say(c, d.Mend)}, Set: d.Mend})
	}
	if to, ok := c.rowsOf(d); ok {
		out = append(out, Choice{Label: "doubt.rows", To: to})
	}
	return out
}

// rowsOf returns the question about the rows of the plot, if the doubt d is about a tool that does not go between them.
func (c *scene) rowsOf(d *doubt) (to ScreenID, ok bool) {
	if d.About != doubtFit || len(c.s.Trail) == 0 {
		return "", false
	}
	in, _, _ := strings.Cut(string(c.s.Trail[len(c.s.Trail)-1]), ".")
	to = ScreenID(in + ".spacing")
	return to, c.m.screens[to] != nil
}

// askRows drops the doubted entry and goes to the question about the rows. If that question was asked in this dialogue,
// it goes back there.
func (c *scene) askRows(to ScreenID) {
	c.s.Doubt = nil
	to = c.onward(to)
	if i := slices.Index(c.s.Trail, to); i >= 0 {
		c.s.Trail = c.s.Trail[:i]
	}
	c.s.Screen = to
}

// settleDoubt continues from the screen on which the doubted entry was typed, as if the grower had typed the chosen
// value there.
func (c *scene) settleDoubt(choice Choice) *Refusal {
	if choice.To != "" {
		c.askRows(choice.To)
		return nil
	}
	before := c.s.clone()
	n := len(c.s.Trail)
	if n == 0 || c.m.screens[c.s.Trail[n-1]].Typed == nil { // broken session: a typed answer comes before any doubt
		c.begin()
		return nil
	}
	c.s.Screen, c.s.Trail = c.s.Trail[n-1], c.s.Trail[:n-1]
	c.s.Answers, c.s.Doubt = nil, nil
	c.s.putAll(choice.Set)
	typed := c.screen().Typed
	return c.follow(before, typed.Do, typed.To)
}

// typedAgain handles a grower who, instead of answering the doubt with 1 or 2, types a new value for the doubted
// question without pressing the back key first. typedAgain returns true if the new value was accepted. If the entry is
// not understood, the doubt stays as it was. A single digit is never a new value: it is a choice or a typing mistake.
func (c *scene) typedAgain(entry string) bool {
	if len(answer.Digits(entry)) < 2 || len(c.s.Trail) == 0 {
		return false
	}
	before := c.s.clone()
	c.back()
	if c.enter(entry) != nil {
		c.s = before
		return false
	}
	return true
}

// in returns the number that the answers a hold for the field f, or 0 if they have no such field.
func (f Field) in(a map[Field]string) float64 { return (&session{Answers: a}).float(f) }

func sayCM(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string { return c.t("word.cm", text.Args{"cm": number(f.in(a))}) }
}

// sayRange writes a length in cm, or two lengths (10 to 15 cm) if the second field holds a longer length than the
// first.
func sayRange(from, to Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		return c.t("word.cm", text.Args{"cm": c.fromTo(from.in(a), max(from.in(a), to.in(a)))})
	}
}

func sayHours(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		return c.t("doubt.hours", text.Args{"hours": number(f.in(a))})
	}
}

// sayMinutes writes hours and minutes, the minutes to the nearest five: more exactly no grower measures.
func sayMinutes(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		const fiveMinutes = 5
		minutes := int(math.Round(f.in(a)*60/fiveMinutes)) * fiveMinutes
		return c.t("doubt.hours-min", text.Args{"h": minutes / 60, "min": minutes % 60})
	}
}

func saySpacing(c *scene, a map[Field]string) string { return c.pair(fRow.in(a), fHill.in(a)) }

// sayFit writes the width of a tool and the row spacing that the tool must fit.
func sayFit(c *scene, a map[Field]string) string {
	row := fRow.in(a)
	if row == 0 {
		row = c.row()
	}
	return c.t("doubt.pair", text.Args{
		"tool": c.fromTo(fTool.in(a), max(fTool.in(a), fToolMax.in(a))), "row": number(row)})
}

// sayArea writes a size in the unit in which it was typed.
func sayArea(c *scene, a map[Field]string) string {
	sides := text.Args{"a": number(fSizeA.in(a)), "b": number(fSizeB.in(a))}
	n := written(fSizeN.in(a))
	switch unit := a[fSizeUnit]; unit {
	case answer.UnitM2:
		return c.t("doubt.area", text.Args{"area": number(fSizeN.in(a))})
	case answer.UnitMetre:
		return c.t("doubt.sides", sides)
	case answer.UnitStep:
		return c.t("doubt.steps", sides)
	case answer.UnitFoot:
		return c.t("doubt.feet", sides)
	case answer.UnitHa:
		return c.t("costs.ha", text.Args{"area": n})
	case answer.UnitAcre:
		return c.t("doubt.acre", text.Args{"n": n})
	default:
		return c.t("doubt.unit", text.Args{"n": n, "unit": unit})
	}
}

func saySides(c *scene, a map[Field]string) string {
	return c.t("doubt.sides", text.Args{"a": number(fLength.in(a)), "b": number(fWidth.in(a))})
}

// sayDay writes a date. sayDay adds the year if that is not the current year.
func sayDay(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		d := day(int(f.in(a)))
		if yearOf(d) != yearOf(c.today()) {
			return sayYear(f)(c, a)
		}
		return c.date(d)
	}
}

func sayYear(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		d := day(int(f.in(a)))
		return c.t("doubt.date-year", text.Args{"date": c.date(d), "year": yearOf(d)})
	}
}

func yearOf(d engine.Day) int {
	y, _, _ := d.Date()
	return y
}
