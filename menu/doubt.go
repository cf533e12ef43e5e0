package menu

import (
	"maps"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// doubt is an entry that was understood and is likely a slip: it is asked back, and
// one digit settles it. It is saved with the session as values, not words, because
// the language may change meanwhile.
type doubt struct {
	About doubtKind        `json:"k"`
	Kept  map[Field]string `json:"a"`           // the answers if the entry stands
	Mend  map[Field]string `json:"m,omitempty"` // the answers that were likely meant; nil: cannot be told
}

// doubtKind names a kind of doubt in a saved session; "" is no doubt.
type doubtKind string

const (
	doubtRow      doubtKind = "row"
	doubtHill     doubtKind = "hill"
	doubtRows     doubtKind = "rows" // narrowest and widest
	doubtTool     doubtKind = "tool"
	doubtFit      doubtKind = "fit" // tool and rows do not go together
	doubtArea     doubtKind = "area"
	doubtSides    doubtKind = "sides"
	doubtHours    doubtKind = "hours"
	doubtDayHours doubtKind = "dayhours"
)

// corrected is the kind of doubt where another value was read than was typed. It
// asks without giving a reason.
func corrected(k doubtKind) doubtKind { return k + ".read" }

// doubtDay is the kind of doubt about a date, doubtYear where its year was replaced.
func doubtDay(f Field) doubtKind  { return "day." + doubtKind(f) }
func doubtYear(f Field) doubtKind { return "year." + doubtKind(f) }

// doubtText says how a kind of doubt is asked: the question, and the value in words.
type doubtText struct {
	Ask text.Key                                        // with {it}, the value
	Say func(c *scene, answers map[Field]string) string // the value in words
}

var doubtTexts = func() map[doubtKind]doubtText {
	texts := map[doubtKind]doubtText{
		doubtRow:             {"doubt.row", sayCM(fRow)},
		corrected(doubtRow):  {"doubt.right", sayCM(fRow)},
		doubtHill:            {"doubt.right", sayCM(fHill)},
		corrected(doubtHill): {"doubt.right", sayCM(fHill)},
		doubtRows:            {"doubt.row", sayRange(fRow, fRowMax)},
		doubtTool:            {"doubt.right", sayRange(fTool, fToolMax)},
		doubtFit:             {"doubt.fit", sayFit},
		doubtArea:            {"doubt.right", sayArea},
		doubtSides:           {"doubt.right", saySides},
		doubtHours:           {"doubt.right", sayHours(fHours)},
		doubtDayHours:        {"doubt.right", sayHours(fDayHours)},
	}
	for _, f := range []Field{fPlanted, fOn, fSown} {
		texts[doubtDay(f)] = doubtText{"doubt.right", sayDay(f)}
		texts[doubtYear(f)] = doubtText{"doubt.right", sayYear(f)}
	}
	return texts
}()

// The functions below are the Doubt of a Typed. Each judges an entry that its Parse
// has accepted and stored, and returns the kind of doubt and the fields that were
// likely meant otherwise.

// doubted converts a doubt about the number in f.
func (f Field) doubted(about doubtKind, d answer.Doubt[float64]) (doubtKind, map[Field]string) {
	switch {
	case d.Why == answer.NoDoubt:
		return "", nil
	case d.Why == answer.Corrected:
		return corrected(about), nil
	case d.Meant == nil:
		return about, nil
	}
	return about, f.with(*d.Meant)
}

// with returns the answers with x in this field only.
func (f Field) with(x float64) map[Field]string { return map[Field]string{f: stored(x)} }

func doubtedCM(f Field, about doubtKind, l answer.Length) judge {
	return func(_ *scene, entry string) (doubtKind, map[Field]string) {
		_, d, _ := answer.CM(entry, l)
		return f.doubted(about, d)
	}
}

func doubtedGaps(_ *scene, entry string) (doubtKind, map[Field]string) {
	_, d, _ := answer.Gaps(entry, measuredGaps, answer.RowSpacing)
	return fRow.doubted(doubtRow, d)
}

func doubtedRows(_ *scene, entry string) (doubtKind, map[Field]string) {
	_, d, _ := answer.Rows(entry)
	if d.Why == answer.NoDoubt || d.Meant == nil {
		return kindIf(d.Why, doubtRows), nil
	}
	mend := fRow.with(d.Meant.From)
	maps.Copy(mend, fRowMax.with(d.Meant.To))
	return doubtRows, mend
}

// kindIf returns k where there is a doubt, else "".
func kindIf(why answer.Why, k doubtKind) doubtKind {
	if why == answer.NoDoubt {
		return ""
	}
	return k
}

// doubtedTool judges a tool for the rows of the plot.
func doubtedTool(c *scene, entry string) (doubtKind, map[Field]string) {
	_, d, _ := answer.Tool(entry, c.row())
	return toolDoubt(d)
}

// doubtedWidth judges a tool alone.
func doubtedWidth(_ *scene, entry string) (doubtKind, map[Field]string) {
	_, d, _ := answer.Tool(entry, 0)
	return toolDoubt(d)
}

func toolDoubt(d answer.Doubt[answer.Range]) (doubtKind, map[Field]string) {
	about := kindIf(d.Why, doubtTool)
	if d.Why == answer.NoFit {
		about = doubtFit
	}
	if d.Meant == nil {
		return about, nil
	}
	return about, fTool.with(d.Meant.From)
}

// doubtedRowForTool judges a tool that the rows are planned for; other rows follow
// from the width that was likely meant.
func doubtedRowForTool(c *scene, entry string) (doubtKind, map[Field]string) {
	about, mend := doubtedWidth(c, entry)
	if mend == nil {
		return about, nil
	}
	_, row, _, ok := engine.SpacingFor(engine.Tool{WidthCM: fTool.in(mend)})
	if !ok {
		return about, nil
	}
	maps.Copy(mend, fRow.with(row))
	return about, mend
}

func doubtedArea(units areaUnits) judge {
	return func(c *scene, entry string) (doubtKind, map[Field]string) {
		_, d, _ := answer.Area(entry, units(c))
		return fArea.doubted(doubtArea, d)
	}
}

func doubtedSides(units areaUnits) judge {
	return func(c *scene, entry string) (doubtKind, map[Field]string) {
		_, d, _ := answer.ReadSides(entry, units(c))
		if d.Meant == nil {
			return kindIf(d.Why, doubtSides), nil
		}
		mend := fLength.with(d.Meant.Length)
		maps.Copy(mend, fWidth.with(d.Meant.Width))
		return doubtSides, mend
	}
}

func doubtedDate(f Field, reach answer.Reach) judge {
	return func(c *scene, entry string) (doubtKind, map[Field]string) {
		_, d, _ := answer.Date(entry, c.today(), reach, c.m.dates[c.lang])
		return dayDoubt(f, d)
	}
}

func doubtedPastDate(f Field, reach answer.Reach) judge {
	return func(c *scene, entry string) (doubtKind, map[Field]string) {
		_, d, _ := answer.PastDate(entry, c.today(), reach, c.m.dates[c.lang])
		return dayDoubt(f, d)
	}
}

func dayDoubt(f Field, d answer.Doubt[engine.Day]) (doubtKind, map[Field]string) {
	switch {
	case d.Why == answer.CorrectedYear:
		return doubtYear(f), nil
	case d.Meant == nil:
		return kindIf(d.Why, doubtDay(f)), nil
	}
	return doubtDay(f), map[Field]string{f: strconv.Itoa(int(*d.Meant))}
}

// doubtedPassDay does not ask back where the other day is one on which the plot
// cannot have been weeded.
func doubtedPassDay(c *scene, entry string) (doubtKind, map[Field]string) {
	about, mend := doubtedPastDate(fOn, answer.WeededReach)(c, entry)
	if mend == nil {
		return about, nil
	}
	typed := c.s.Answers[fOn]
	c.s.putAll(mend)
	refused := c.passDay()
	c.s.put(fOn, typed)
	if refused != nil {
		return "", nil
	}
	return about, mend
}

func doubtedHours(c *scene, entry string) (doubtKind, map[Field]string) {
	s, _ := c.plot()
	_, d, _ := answer.Hours(entry, s.Plot.AreaM2)
	return fHours.doubted(doubtHours, d)
}

func doubtedDayHours(_ *scene, entry string) (doubtKind, map[Field]string) {
	_, d, _ := answer.DayHours(entry)
	return kindIf(d.Why, doubtDayHours), nil
}

// sDoubt is the screen that asks an entry back.
const sDoubt ScreenID = "doubt"

func doubtScreens() []Screen {
	return []Screen{{ID: sDoubt, Head: doubtHead, List: doubtChoices}}
}

// askDoubt keeps the answers just understood aside until the grower confirms them
// or chooses those that were likely meant.
func (c *scene) askDoubt(before *session, about doubtKind, mend map[Field]string) {
	d := &doubt{About: about, Kept: c.s.Answers}
	if mend != nil {
		m := c.s.clone()
		m.putAll(mend)
		d.Mend = m.Answers
	}
	c.s.Answers, c.s.Doubt = before.Answers, d
	c.s.push(c.s.Screen)
	c.s.Screen = sDoubt
}

func doubtHead(c *scene) string {
	d := c.s.Doubt
	if d == nil {
		return ""
	}
	kind := doubtTexts[d.About]
	return c.t(kind.Ask, text.Args{"it": kind.Say(c, d.Kept)})
}

// doubtChoices: 1 the entry stands, 2 what was likely meant. Back leads to the
// question, to type it again.
func doubtChoices(c *scene) []Choice {
	d := c.s.Doubt
	if d == nil {
		return nil
	}
	say := doubtTexts[d.About].Say
	out := []Choice{{Digit: '1', Label: "doubt.keep", Args: text.Args{"it": say(c, d.Kept)}, Set: d.Kept}}
	if d.Mend != nil {
		out = append(out, Choice{Digit: '2', Label: "doubt.mend", Args: text.Args{"it": say(c, d.Mend)}, Set: d.Mend})
	}
	return out
}

// settleDoubt goes on from the screen on which the entry was typed, as if the chosen
// answers had been read there.
func (c *scene) settleDoubt(choice Choice) *Refusal {
	before := c.s.clone()
	n := len(c.s.Trail)
	c.s.Screen, c.s.Trail = c.s.Trail[n-1], c.s.Trail[:n-1]
	c.s.Answers, c.s.Doubt = nil, nil
	c.s.putAll(choice.Set)
	typed := c.screen().Typed
	return c.follow(before, typed.Do, typed.To)
}

// typedAgain takes an answer typed at the question about the last one, from growers
// who do not go back first. An entry that is not understood leaves the question as
// it is. A lone digit is one of the choices or a slip.
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

// in returns the number that the answers hold for the field.
func (f Field) in(a map[Field]string) float64 { return (&session{Answers: a}).float(f) }

func sayCM(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		return c.t("word.cm", text.Args{"cm": number(f.in(a))})
	}
}

// sayRange writes one length, or both where the second is longer.
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

// sayFit writes a tool and the rows that it is for.
func sayFit(c *scene, a map[Field]string) string {
	row := fRow.in(a)
	if row == 0 {
		row = c.row()
	}
	return c.t("doubt.pair", text.Args{
		"tool": c.fromTo(fTool.in(a), max(fTool.in(a), fToolMax.in(a))), "row": number(row)})
}

func sayArea(c *scene, a map[Field]string) string {
	return c.t("doubt.area", text.Args{"area": number(fArea.in(a))})
}

func saySides(c *scene, a map[Field]string) string {
	return c.t("doubt.sides", text.Args{"a": number(fLength.in(a)), "b": number(fWidth.in(a))})
}

// sayDay writes a date, with the year where it is not this year.
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
