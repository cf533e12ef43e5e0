package menu

import (
	"rowbell/menu/text"
)

const (
	slipRow      slip = "row"
	slipHill     slip = "hill"
	slipRows     slip = "rows" // narrowest and widest
	slipTool     slip = "tool"
	slipFit      slip = "fit" // tool and row do not go together
	slipArea     slip = "area"
	slipSides    slip = "sides"
	slipHours    slip = "hours"
	slipDayHours slip = "dayhours"
)

// readAs is the kind of doubt where an entry was taken for another one: it asks
// without giving a reason.
func readAs(s slip) slip { return s + ".read" }

// slips are the kinds of doubt.
var slips = func() map[slip]slipKind {
	kinds := map[slip]slipKind{
		slipRow:          {"doubt.row", sayCM(fRow)},
		readAs(slipRow):  {"doubt.right", sayCM(fRow)},
		slipHill:         {"doubt.right", sayCM(fHill)},
		readAs(slipHill): {"doubt.right", sayCM(fHill)},
		slipRows:         {"doubt.row", sayRange(fRow, fRowMax)},
		slipTool:         {"doubt.right", sayRange(fTool, fToolMax)},
		slipFit:          {"doubt.fit", sayFit},
		slipArea:         {"doubt.right", sayArea},
		slipSides:        {"doubt.right", saySides},
		slipHours:        {"doubt.right", sayHours(fHours)},
		slipDayHours:     {"doubt.right", sayHours(fDayHours)},
	}
	for _, f := range []Field{fPlanted, fOn, fSown} {
		kinds[slipDay(f)] = slipKind{"doubt.right", sayDay(f)}
		kinds[slipYear(f)] = slipKind{"doubt.right", sayYear(f)}
	}
	return kinds
}()

// typedAgain takes an answer that is typed at the question about the last one,
// by those who do not go back first. What is not understood leaves the question
// standing, and a lone digit is one of its answers or a slip.
func (c *scene) typedAgain(entry string) bool {
	if len(digits(entry)) < 2 || len(c.s.Trail) == 0 {
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

// in is an amount of the answers that are asked back, where only a session's
// are at hand.
func (f Field) in(a map[Field]string) float64 { return (&session{Answers: a}).float(f) }

// with are the answers mended in one field.
func (f Field) with(x float64) map[Field]string {
	return map[Field]string{f: kept(x)}
}

func sayCM(f Field) func(*scene, map[Field]string) string {
	return func(c *scene, a map[Field]string) string {
		return c.t("word.cm", text.Args{"cm": number(f.in(a))})
	}
}

// sayRange says one length, or two where the second is more.
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
