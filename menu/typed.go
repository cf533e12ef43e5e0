package menu

import (
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Refusal is why an entry cannot be used.
type Refusal = answer.Refusal

// The functions in this file are the Parse of a Typed: each reads an entry with
// package answer and stores what was understood in the session. What they doubt is
// in doubt.go.

func (c *scene) putNumber(f Field, x float64) { c.s.put(f, stored(x)) }

// stored formats a number for the session.
func stored(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// typedDate reads a date into f. On a screen with numbered choices a bare number of
// one or two digits is refused with the text choiceKey: it would be a choice that is
// not there. Without choices choiceKey is "".
func typedDate(f Field, reach answer.Reach, choiceKey text.Key) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		if d := answer.Digits(entry); choiceKey != "" && len(d) < 3 {
			if _, err := strconv.Atoi(d); err == nil {
				return answer.Refuse(choiceKey, entry, nil)
			}
		}
		day, _, refused := answer.Date(entry, c.today(), reach, c.m.dates[c.lang])
		return c.putDay(f, day, refused)
	}
}

// typedPastDate reads days ago, or a date, into f.
func typedPastDate(f Field, reach answer.Reach) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		day, _, refused := answer.PastDate(entry, c.today(), reach, c.m.dates[c.lang])
		return c.putDay(f, day, refused)
	}
}

func (c *scene) putDay(f Field, day engine.Day, refused *Refusal) *Refusal {
	if refused == nil {
		c.s.put(f, strconv.Itoa(int(day)))
	}
	return refused
}

// typedDaysAgo reads how many days ago a plot was planted.
func typedDaysAgo(c *scene, entry string) *Refusal {
	n, refused := answer.DaysAgo(entry, answer.PlantedReach.Back)
	return c.putDay(fPlanted, c.today()-engine.Day(n), refused)
}

// typedPassDay reads the day of a weeding on the plot.
func typedPassDay(c *scene, entry string) *Refusal {
	if refused := typedPastDate(fOn, answer.WeededReach)(c, entry); refused != nil {
		return refused
	}
	return c.passDay()
}

// plantingDay is an answer about a planting day.
func plantingDay(reach answer.Reach, choiceKey text.Key, do Act, to ScreenID, samples ...string) *Typed {
	return &Typed{Parse: typedDate(fPlanted, reach, choiceKey), Doubt: doubtedDate(fPlanted, reach),
		Do: do, To: to, Samples: samples}
}

// rowTyped is an answer about the spacing of rows, hillTyped about that of plants in a row.
func rowTyped(do Act, to ScreenID, samples ...string) *Typed {
	return &Typed{Parse: typedCM(fRow, answer.RowSpacing), Doubt: doubtedCM(fRow, doubtRow, answer.RowSpacing),
		Do: do, To: to, Samples: samples}
}

func hillTyped(do Act, to ScreenID, samples ...string) *Typed {
	return &Typed{Parse: typedCM(fHill, answer.HillSpacing), Doubt: doubtedCM(fHill, doubtHill, answer.HillSpacing),
		Do: do, To: to, Samples: samples}
}

func typedCM(f Field, l answer.Length) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		cm, _, refused := answer.CM(entry, l)
		c.putNumber(f, cm)
		return refused
	}
}

// measuredGaps is the number of gaps that a grower measures rows over.
const measuredGaps = 10

func typedGaps(c *scene, entry string) *Refusal {
	cm, _, refused := answer.Gaps(entry, measuredGaps, answer.RowSpacing)
	c.putNumber(fRow, cm)
	return refused
}

// typedTool reads one width or, for an adjustable tool, two.
func typedTool(c *scene, entry string) *Refusal {
	width, _, refused := answer.Tool(entry, 0)
	return c.putTool(width, refused)
}

func typedAdjustableTool(c *scene, entry string) *Refusal {
	width, _, refused := answer.AdjustableTool(entry, 0)
	return c.putTool(width, refused)
}

func (c *scene) putTool(width answer.Range, refused *Refusal) *Refusal {
	if width.To == width.From { // not adjustable
		width.To = 0
	}
	c.putNumber(fTool, width.From)
	c.putNumber(fToolMax, width.To)
	return refused
}

// typedRows reads one row spacing, or the narrowest and the widest.
func typedRows(c *scene, entry string) *Refusal {
	rows, _, refused := answer.Rows(entry)
	c.putNumber(fRow, rows.From)
	c.putNumber(fRowMax, rows.To)
	return refused
}

// areaUnits returns what numbers without a unit stand for on a screen.
type areaUnits func(*scene) answer.AreaUnits

// inMetres reads sides in m and areas in m2.
func inMetres(c *scene) answer.AreaUnits {
	return answer.AreaUnits{SideM: 1, M2: 1, StepM: c.m.opt.StepM, Local: c.m.units}
}

// inSteps reads sides in steps.
func inSteps(c *scene) answer.AreaUnits {
	u := inMetres(c)
	u.SideM = u.StepM
	return u
}

// inLocalUnit reads areas in the local unit that was chosen.
func inLocalUnit(c *scene) answer.AreaUnits {
	u := inMetres(c)
	u.M2 = c.unit().M2
	return u
}

// areaTyped is an answer about an area, or about its sides.
func areaTyped(units areaUnits, do Act, to ScreenID, samples ...string) *Typed {
	return &Typed{Parse: typedArea(units), Doubt: doubtedArea(units), Sides: true, Do: do, To: to, Samples: samples}
}

func typedArea(units areaUnits) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		m2, _, refused := answer.Area(entry, units(c))
		c.putNumber(fArea, m2)
		return refused
	}
}

func typedSides(units areaUnits) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		sides, _, refused := answer.ReadSides(entry, units(c))
		c.putNumber(fLength, sides.Length)
		c.putNumber(fWidth, sides.Width)
		return refused
	}
}

func typedName(c *scene, entry string) *Refusal {
	name, refused := answer.Name(entry)
	if refused != nil {
		return refused
	}
	if !c.writes(name) {
		return answer.Refuse("refuse.name", entry, nil)
	}
	c.s.put(fName, name)
	return c.nameTaken(name)
}

// nameTaken refuses the name of another plot, because texts name plots by it.
func (c *scene) nameTaken(name string) *Refusal {
	nos, err := c.plots.Plots()
	if err != nil {
		c.fail(err)
	}
	for _, no := range nos {
		s, ok := c.plotNo(no)
		if !ok {
			return nil
		}
		if no != c.s.int(fPlot) && strings.EqualFold(c.label(no, s.Plot), name) {
			return &Refusal{Key: "refuse.name-taken"}
		}
	}
	return nil
}

// typedNumber stores in f what a parser without doubts reads.
func typedNumber(f Field, parse func(string) (float64, *Refusal)) func(*scene, string) *Refusal {
	return func(c *scene, entry string) *Refusal {
		x, refused := parse(entry)
		c.putNumber(f, x)
		return refused
	}
}

func typedHours(c *scene, entry string) *Refusal {
	h, _, refused := answer.Hours(entry, 0)
	c.putNumber(fHours, h)
	return refused
}

func typedDayHours(c *scene, entry string) *Refusal {
	h, _, refused := answer.DayHours(entry)
	c.putNumber(fDayHours, h)
	return refused
}

func typedPeople(c *scene, entry string) *Refusal {
	n, refused := answer.People(entry)
	c.s.put(fPeople, strconv.Itoa(n))
	return refused
}

// inDays are the whole numbers that are days: the word for days may stand after
// them.
var inDays = map[Field]bool{fAge: true, fDuration: true, fPuddled: true, fHired: true}

func typedWhole(f Field, from, to int) func(*scene, string) *Refusal {
	parse := answer.Whole
	if inDays[f] {
		parse = answer.Days
	}
	return func(c *scene, entry string) *Refusal {
		n, refused := parse(entry, from, to)
		c.s.put(f, strconv.Itoa(n))
		return refused
	}
}

// typedHeights reads how tall the people are who will push a tool.
func typedHeights(c *scene, entry string) *Refusal {
	heights, refused := answer.Heights(entry)
	all := make([]string, len(heights))
	for i, cm := range heights {
		all[i] = stored(cm)
	}
	c.s.put(fHeights, strings.Join(all, " "))
	return refused
}

// typedCode reads the six digits that bring records to another phone.
func typedCode(c *scene, entry string) *Refusal {
	code, refused := answer.Code(entry)
	c.s.put(fCode, code)
	return refused
}
