package menu

import (
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// The typed answers of the screens: each reads an entry with a parser of
// answer*.go and keeps what it understood in the session.

var (
	spacingLimits = limits{engine.MinSpacingCM, engine.MaxSpacingCM}
	toolLimits    = limits{engine.MinToolCM, engine.MaxToolCM}
	areaLimits    = limits{1, engine.MaxAreaM2}
	hoursLimits   = limits{0.1, 500}
)

func (c *scene) putNumber(f Field, x float64) { c.s.put(f, strconv.FormatFloat(x, 'f', -1, 64)) }

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
	read, refused := parseDate(entry, c.today(), plantingReach, c.m.cat.MonthWords(c.lang))
	if refused != nil {
		return refused
	}
	c.s.put(fPlanted, strconv.Itoa(int(read.Day)))
	return nil
}

func typedAgo(c *scene, entry string) *Refusal {
	n, refused := parseDaysAgo(entry, plantingReach.back)
	if refused != nil {
		return refused
	}
	c.s.put(fPlanted, strconv.Itoa(int(c.today())-n))
	return nil
}

// passReach is how far back a weeding may be logged.
const passReach = 60

// typedPassDay reads days ago, or a date of the past.
func typedPassDay(c *scene, entry string) *Refusal {
	if n, refused := parseDaysAgo(entry, passReach); refused == nil {
		c.s.put(fOn, strconv.Itoa(int(c.today())-n))
		return c.passDay()
	}
	read, refused := parseDate(entry, c.today(), reach{back: passReach}, c.m.cat.MonthWords(c.lang))
	if refused != nil {
		return refused
	}
	c.s.put(fOn, strconv.Itoa(int(read.Day)))
	return c.passDay()
}

func typedCM(f Field) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		cm, refused := parseCM(entry, spacingLimits)
		if refused != nil {
			return refused
		}
		c.putNumber(f, cm)
		return nil
	}
}

func typedTenGaps(c *scene, entry string) *Refusal {
	cm, refused := parseGaps(entry, 10, spacingLimits)
	if refused != nil {
		return refused
	}
	c.putNumber(fRow, cm)
	return nil
}

// typedTool reads one width or, for an adjustable tool, two.
func typedTool(c *scene, entry string) *Refusal {
	if from, to, refused := parseWidths(entry, toolLimits); refused == nil {
		c.putNumber(fTool, from)
		c.putNumber(fToolMax, to)
		return nil
	}
	cm, refused := parseCM(entry, toolLimits)
	if refused != nil {
		return refused
	}
	c.putNumber(fTool, cm)
	c.s.put(fToolMax, "0")
	return nil
}

func typedToolRange(c *scene, entry string) *Refusal {
	from, to, refused := parseWidths(entry, toolLimits)
	if refused != nil {
		return refused
	}
	c.putNumber(fTool, from)
	c.putNumber(fToolMax, to)
	return nil
}

func typedArea(c *scene, entry string) *Refusal { return c.area(entry, metric) }

func typedSteps(c *scene, entry string) *Refusal {
	return c.area(entry, areaUnits{SideM: c.m.opt.StepM, M2: 1})
}

func typedUnits(c *scene, entry string) *Refusal {
	return c.area(entry, areaUnits{SideM: 1, M2: c.unit().M2})
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
	if c.m.cat.Alphabet(c.lang) == text.GSM7 && !text.IsGSM7(name) {
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

func typedWhole(f Field, from, to int) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		n, refused := parseWhole(entry, from, to)
		if refused != nil {
			return refused
		}
		c.s.put(f, strconv.Itoa(n))
		return nil
	}
}
