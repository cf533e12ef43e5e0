package menu

import (
	"strconv"
	"strings"

	"rowbell/engine"
)

// The typed answers of the screens: each reads an entry with a parser of
// answer*.go and keeps what it understood in the session.

var (
	spacingLimits = limits{engine.MinSpacingCM, engine.MaxSpacingCM}
	toolLimits    = limits{engine.MinToolCM, engine.MaxToolCM}
	areaLimits    = limits{1, engine.MaxAreaM2}
	hoursLimits   = limits{0.1, 500}
)

func (c *scene) putNumber(f Field, x float64) { c.s.put(f, kept(x)) }

// kept is a number as a session holds it.
func kept(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// typedDate reads a planting date in any of the usual ways.
func typedDate(c *scene, entry string) *Refusal { return c.plantingDay(entry) }

// typedDateOnly does the same on a screen with numbered choices, where a bare
// number would be a choice that is not there.
func typedDateOnly(c *scene, entry string) *Refusal {
	if _, err := strconv.Atoi(digits(entry)); err == nil && len(digits(entry)) < 3 {
		return refuse("refuse.when", entry, nil)
	}
	return c.plantingDay(entry)
}

func (c *scene) plantingDay(entry string) *Refusal {
	return c.typedDay(fPlanted, plantingReach, entry)
}

// typedDay reads a date and keeps it.
func (c *scene) typedDay(f Field, within reach, entry string) *Refusal {
	read, refused := c.readDay(entry, within)
	if refused != nil {
		return refused
	}
	c.s.put(f, strconv.Itoa(int(read.Day)))
	return nil
}

// readDay reads a date in the words of any language, the grower's first.
func (c *scene) readDay(entry string, within reach) (dateRead, *Refusal) {
	return parseDate(entry, c.today(), within, c.m.dates[c.lang])
}

func typedAgo(c *scene, entry string) *Refusal {
	n, refused := parseDaysAgo(entry, plantingReach.back)
	if refused != nil {
		return refused
	}
	c.s.put(fPlanted, strconv.Itoa(int(c.today())-n))
	return nil
}

// passReach is how far back a weeding may be logged. Most are logged before the
// next one is due, three weeks at most (common practice, no source).
var passReach = reach{back: 60, usual: 21}

// typedPassDay reads days ago, or a date of the past.
func typedPassDay(c *scene, entry string) *Refusal {
	if n, refused := parseDaysAgo(entry, passReach.back); refused == nil {
		c.s.put(fOn, strconv.Itoa(int(c.today())-n))
		return c.passDay()
	}
	if refused := c.typedDay(fOn, passReach, entry); refused != nil {
		return refused
	}
	return c.passDay()
}

func typedCM(f Field) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		cm, _, refused := likelyCM(entry, spacingLimits, usualSpacing(f))
		if refused != nil {
			return refused
		}
		c.putNumber(f, cm)
		return nil
	}
}

func typedTenGaps(c *scene, entry string) *Refusal {
	cm, _, refused := likelyGaps(entry, 10, spacingLimits, usualRows)
	if refused != nil {
		return refused
	}
	c.putNumber(fRow, cm)
	return nil
}

// typedTool reads one width or, for an adjustable tool, two.
func typedTool(c *scene, entry string) *Refusal {
	if typedToolRange(c, entry) == nil {
		return nil
	}
	cm, _, refused := likelyCM(entry, toolLimits, usualTools)
	if refused != nil {
		return refused
	}
	c.putNumber(fTool, cm)
	c.s.put(fToolMax, "0")
	return nil
}

func typedToolRange(c *scene, entry string) *Refusal {
	from, to, _, refused := likelyWidths(entry, toolLimits, usualTools)
	if refused != nil {
		return refused
	}
	c.putNumber(fTool, from)
	c.putNumber(fToolMax, to)
	return nil
}

// typedArea reads an area on the screens that ask for metres, steps, or a
// local unit.
func typedArea(c *scene, entry string) *Refusal  { return c.area(entry, c.inMetres()) }
func typedSteps(c *scene, entry string) *Refusal { return c.area(entry, c.inSteps()) }
func typedUnits(c *scene, entry string) *Refusal { return c.area(entry, c.inLocal()) }

func (c *scene) inMetres() areaUnits {
	return areaUnits{SideM: 1, M2: 1, StepM: c.m.opt.StepM, Local: c.m.units}
}

func (c *scene) inSteps() areaUnits {
	u := c.inMetres()
	u.SideM = u.StepM
	return u
}

func (c *scene) inLocal() areaUnits {
	u := c.inMetres()
	u.M2 = c.unit().M2
	return u
}

func (c *scene) area(entry string, u areaUnits) *Refusal {
	a, refused := parseArea(entry, u, areaLimits)
	if refused != nil {
		return refused
	}
	c.putNumber(fArea, a.M2)
	return nil
}

func typedName(c *scene, entry string) *Refusal {
	name, refused := parseName(entry)
	if refused != nil {
		return refused
	}
	if !c.writes(name) {
		return refuse("refuse.name", entry, nil)
	}
	c.s.put(fName, name)
	return c.nameTaken(name)
}

// nameTaken refuses a name that another plot has: a text could not tell them
// apart.
func (c *scene) nameTaken(name string) *Refusal {
	nos, err := c.b.Plots()
	if err != nil {
		c.fail(err)
	}
	for _, no := range nos {
		s, err := c.b.Season(no)
		if err != nil {
			c.fail(err)
			return nil
		}
		if no != c.s.int(fPlot) && strings.EqualFold(c.label(no, s.Plot), name) {
			return &Refusal{Key: "refuse.name-taken"}
		}
	}
	return nil
}

func typedHours(c *scene, entry string) *Refusal {
	h, refused := parseHours(entry, hoursLimits)
	if refused != nil {
		return refused
	}
	c.putNumber(fHours, h)
	return nil
}

func typedPeople(c *scene, entry string) *Refusal {
	n, refused := parsePeople(entry)
	if refused != nil {
		return refused
	}
	c.s.put(fPeople, strconv.Itoa(n))
	return nil
}

// inDays are the whole numbers that are days, and may be typed so.
var inDays = map[Field]bool{fAge: true, fDuration: true, fPuddled: true, fHired: true}

func typedWhole(f Field, from, to int) func(*scene, string) *Refusal {
	parse := parseWhole
	if inDays[f] {
		parse = parseDays
	}
	return func(c *scene, entry string) *Refusal {
		n, refused := parse(entry, from, to)
		if refused != nil {
			return refused
		}
		c.s.put(f, strconv.Itoa(n))
		return nil
	}
}
