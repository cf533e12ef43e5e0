package menu

import (
	"math"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Refusal is the reason why an entry cannot be used, which the screen shows to the grower.
type Refusal = answer.Refusal

// reader reads an entry with package answer and stores the value in the session. If the entry is refused, the caller
// restores the session as it was before.
type reader func(c *scene, entry string) (doubted, *Refusal)

func (c *scene) putNumber(f Field, x float64) { c.s.put(f, stored(x)) }

// stored writes a number as a session stores it: with all decimals and a point.
func stored(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// storedDay writes a day as a session stores it: as the whole number of an engine.Day.
func storedDay(d engine.Day) string { return strconv.Itoa(int(d)) }

// with returns a map of answers with one entry: the number x in the field f.
func (f Field) with(x float64) map[Field]string { return map[Field]string{f: stored(x)} }

// readDate reads a date into the field f. If the screen has numbered choices, a number of one or two digits is not read
// as a day of the month: it is refused with the text choiceKey, because the grower may have mistyped a choice. For a
// screen without choices, choiceKey is "".
func readDate(f Field, reach answer.Reach, choiceKey text.Key) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		if d := answer.Digits(entry); choiceKey != "" && len(d) < 3 {
			if _, err := strconv.Atoi(d); err == nil {
				return doubted{}, answer.Refuse(choiceKey, entry, nil)
			}
		}
		day, d, refused := answer.Date(entry, c.saidOn(), reach, c.m.dates[c.lang])
		c.s.put(f, storedDay(day))
		return dateDoubt(f, d), refused
	}
}

// readPastDate reads a number of days ago, or a date, into the field f.
func readPastDate(f Field, reach answer.Reach) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		day, d, refused := answer.PastDate(entry, c.saidOn(), reach, c.m.dates[c.lang])
		c.s.put(f, storedDay(day))
		return dateDoubt(f, d), refused
	}
}

func dateDoubt(f Field, d answer.Doubt[engine.Day]) doubted {
	about := doubtDay(f)
	if d.Why == answer.CorrectedYear {
		about = doubtYear(f)
	}
	return doubtAbout(about, d, func(day engine.Day) map[Field]string { return map[Field]string{f: storedDay(day)} })
}

// readDaysAgo reads how many days ago a plot was planted, or the date.
func readDaysAgo(c *scene, entry string) (doubted, *Refusal) {
	d, refused := readPastDate(fPlanted, answer.PlantedReach)(c, entry)
	if _, noDays := answer.DaysAgo(entry, answer.PlantedReach.Back); refused != nil && refused.Key == "refuse.date" {
		refused = noDays // say what the question asks for
	}
	return d, refused
}

// readWeededDay makes a reader of the day of a weeding, for the field fOn. The reader read reads the entry, and refuse
// refuses a day on which the plot cannot have been weeded. The entry may be doubted and another day offered instead. If
// refuse refuses that other day, the entry is accepted without a question.
func readWeededDay(read reader, refuse func(*scene) *Refusal) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		d, refused := read(c, entry)
		if refused == nil {
			refused = refuse(c)
		}
		if refused != nil || d.mend == nil {
			return d, refused
		}
		typed := c.s.Answers[fOn]
		c.s.putAll(d.mend)
		if refuse(c) != nil {
			d = doubted{}
		}
		c.s.put(fOn, typed)
		return d, nil
	}
}

// readLength makes a reader of a length in cm within l, for the field f. A doubt about the length is of the kind about.
func readLength(f Field, about doubtKind, l answer.Length) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		cm, d, refused := answer.CM(entry, l)
		c.putNumber(f, cm)
		return lengthDoubt(f, about, d), refused
	}
}

var (
	readRow  = readLength(fRow, doubtRow, answer.RowSpacing)
	readHill = readLength(fHill, doubtHill, answer.HillSpacing)
)

// readSpacing reads the distances from row to row and from plant to plant, or only the first of them.
func readSpacing(c *scene, entry string) (doubted, *Refusal) {
	s, d, refused := answer.ReadSpacing(entry)
	fields := func(s answer.Spacing) map[Field]string {
		hill := ""
		if s.Hill > 0 {
			hill = stored(s.Hill)
		}
		return map[Field]string{fRow: stored(s.Row), fHill: hill}
	}
	c.s.putAll(fields(s))
	about := doubtSpacing
	switch {
	case s.Hill > 0:
	case d.Why == answer.Corrected:
		about = corrected(doubtRow)
	default:
		about = doubtRow
	}
	return doubtAbout(about, d, fields), refused
}

// forgetting makes a reader that first drops an earlier answer f.
func forgetting(f Field, read reader) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		c.s.put(f, "")
		return read(c, entry)
	}
}

// measuredGaps is how many gaps between rows a grower is asked to measure together.
const measuredGaps = 10

func readGaps(c *scene, entry string) (doubted, *Refusal) {
	cm, d, refused := answer.Gaps(entry, measuredGaps, answer.RowSpacing)
	c.putNumber(fRow, cm)
	return lengthDoubt(fRow, doubtRow, d), refused
}

func lengthDoubt(f Field, about doubtKind, d answer.Doubt[float64]) doubted {
	if d.Why == answer.Corrected {
		about = corrected(about)
	}
	return doubtAbout(about, d, f.with)
}

// readTool reads the width of a tool, or the two widths of an adjustable tool. readTool does not compare the tool with
// any rows.
func readTool(c *scene, entry string) (doubted, *Refusal) { return c.putTool(answer.Tool(entry, 0)) }

// readToolForRows reads a tool and judges whether the tool can go between the rows of the plot.
func readToolForRows(c *scene, entry string) (doubted, *Refusal) {
	return c.putTool(answer.Tool(entry, c.row()))
}

func readAdjustableTool(c *scene, entry string) (doubted, *Refusal) {
	return c.putTool(answer.AdjustableTool(entry, c.row()))
}

func (c *scene) putTool(width answer.Range, d answer.Doubt[answer.Range], refused *Refusal) (doubted, *Refusal) {
	if width.To == width.From { // fToolMax is 0 for a tool that is not adjustable
		width.To = 0
	}
	c.putNumber(fTool, width.From)
	c.putNumber(fToolMax, width.To)
	about := doubtTool
	if d.Why == answer.NoFit {
		about = doubtFit
	}
	return doubtAbout(about, d, func(w answer.Range) map[Field]string { return fTool.with(w.From) }), refused
}

// readRowForTool reads the width of a tool and stores the row spacing that suits the tool.
func readRowForTool(c *scene, entry string) (doubted, *Refusal) {
	d, refused := readTool(c, entry)
	if _, row, _, ok := engine.SpacingFor(c.draftTool()); ok {
		c.putNumber(fRow, row)
	}
	if d.mend != nil {
		if _, row, _, ok := engine.SpacingFor(engine.Tool{WidthCM: fTool.in(d.mend)}); ok {
			d.mend[fRow] = stored(row)
		}
	}
	return d, refused
}

// readRows reads one row spacing, or the narrowest and the widest of several spacings.
func readRows(c *scene, entry string) (doubted, *Refusal) {
	rows, d, refused := answer.Rows(entry)
	c.putNumber(fRow, rows.From)
	c.putNumber(fRowMax, rows.To)
	return doubtAbout(doubtRows, d, func(r answer.Range) map[Field]string {
		return map[Field]string{fRow: stored(r.From), fRowMax: stored(r.To)}
	}), refused
}

// areaUnits returns the units of numbers that are typed without a unit on a screen.
type areaUnits func(*scene) answer.AreaUnits

// inMetres is for screens where a side without a unit is in m and an area without a unit is in m2.
func inMetres(c *scene) answer.AreaUnits {
	return answer.AreaUnits{SideM: 1, M2: 1, StepM: c.m.opt.StepM, Local: c.m.units}
}

// inSteps is for screens where a side without a unit is in steps, and an area needs a unit.
func inSteps(c *scene) answer.AreaUnits {
	u := inMetres(c)
	u.SideM, u.M2 = u.StepM, 0 // one number alone is the steps of one side
	return u
}

// inLocalUnit is for screens where an area without a unit is in the local unit that the grower has chosen.
func inLocalUnit(c *scene) answer.AreaUnits {
	u := inMetres(c)
	u.M2, u.Unit = c.unit().M2, c.unit().Name
	return u
}

func readArea(units areaUnits) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		size, d, refused := answer.Area(entry, units(c))
		c.s.putAll(sizeFields(size))
		return doubtAbout(doubtArea, d, sizeFields), refused
	}
}

// sizeFields returns the answers for a size: the area in m2, and the numbers and the unit that were typed, in which a
// doubt is asked.
func sizeFields(s answer.Size) map[Field]string {
	return map[Field]string{fArea: stored(s.M2), fSizeN: stored(s.N), fSizeA: stored(s.A), fSizeB: stored(s.B),
		fSizeUnit: s.Unit}
}

func readSides(units areaUnits) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		sides, d, refused := answer.ReadSides(entry, units(c))
		c.putNumber(fLength, sides.Length)
		c.putNumber(fWidth, sides.Width)
		return doubtAbout(doubtSides, d, func(s answer.Sides) map[Field]string {
			return map[Field]string{fLength: stored(s.Length), fWidth: stored(s.Width)}
		}), refused
	}
}

func readName(c *scene, entry string) (doubted, *Refusal) {
	name, refused := answer.Name(entry)
	switch {
	case refused != nil:
		return doubted{}, refused
	case c.shownName(name) == "":
		return doubted{}, answer.Refuse("refuse.name-script", entry, nil)
	}
	c.s.put(fName, name)
	return doubted{}, c.nameTaken(name)
}

// nameTaken refuses a name that another plot has, because texts call plots by their names.
func (c *scene) nameTaken(name string) *Refusal {
	shown := c.shownName(name)
	for _, no := range c.openPlots() {
		if no != c.s.int(fPlot) && strings.EqualFold(c.label(no, c.plotNo(no).Plot), shown) {
			return &Refusal{Key: "refuse.name-taken"}
		}
	}
	return nil
}

// readNumber makes a reader from a parser that never doubts a number. The reader stores the number in the field f.
func readNumber(f Field, parse func(string) (float64, *Refusal)) reader {
	return func(c *scene, entry string) (doubted, *Refusal) {
		x, refused := parse(entry)
		c.putNumber(f, x)
		return doubted{}, refused
	}
}

func readHours(c *scene, entry string) (doubted, *Refusal) {
	h, d, refused := answer.Hours(entry, c.plot().Plot.AreaM2)
	c.putNumber(fHours, h)
	about := doubtHours
	if d.Meant != nil && math.Abs(h-*d.Meant) < 1 { // 2.30 is 2 h 30 min, or 2.3 h
		about = doubtMinutes
	}
	return doubtAbout(about, d, fHours.with), refused
}

func readDayHours(c *scene, entry string) (doubted, *Refusal) {
	h, d, refused := answer.DayHours(entry)
	c.putNumber(fDayHours, h)
	about := doubtDayHours
	if d.Meant != nil && math.Abs(h-*d.Meant) < 1 {
		about = doubtDayMinutes
	}
	return doubtAbout(about, d, fDayHours.with), refused
}

func readPeople(c *scene, entry string) (doubted, *Refusal) {
	n, refused := answer.People(entry)
	c.s.put(fPeople, strconv.Itoa(n))
	return doubted{}, refused
}

// inDays lists the fields that hold a number of days. After such a number a grower may type the word for days.
var inDays = map[Field]bool{fAge: true, fDuration: true, fPuddled: true, fHired: true}

func readWhole(f Field, from, to int) reader {
	parse := answer.Whole
	if inDays[f] {
		parse = answer.Days
	}
	return func(c *scene, entry string) (doubted, *Refusal) {
		n, refused := parse(entry, from, to)
		c.s.put(f, strconv.Itoa(n))
		return doubted{}, refused
	}
}

// readHeights reads how tall the people are who will push a tool.
func readHeights(c *scene, entry string) (doubted, *Refusal) {
	heights, refused := answer.Heights(entry)
	all := make([]string, len(heights))
	for i, cm := range heights {
		all[i] = stored(cm)
	}
	c.s.put(fHeights, strings.Join(all, " "))
	return doubted{}, refused
}

// readCode reads the six digits that move records to another phone.
func readCode(c *scene, entry string) (doubted, *Refusal) {
	code, refused := answer.Code(entry)
	c.s.put(fCode, code)
	return doubted{}, refused
}
