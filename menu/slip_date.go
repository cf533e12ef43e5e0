package menu

import (
	"strconv"

	"rowbell/engine"
	"rowbell/menu/text"
)

// slipDay is the kind of doubt about a date, slipYear where its year is in
// question.
func slipDay(f Field) slip  { return "day." + slip(f) }
func slipYear(f Field) slip { return "year." + slip(f) }

// doubtDay asks back a date that was not taken as typed (11/25, another year), and
// one that is old where day and month the other way round are recent.
func doubtDay(f Field, within reach) func(*scene, string) (slip, map[Field]string) {
	return func(c *scene, entry string) (slip, map[Field]string) {
		read, refused := c.readDay(entry, within)
		switch {
		case refused != nil || int(read.Day) != c.s.int(f): // days ago
			return "", nil
		case read.Year:
			return slipYear(f), nil
		case read.Guessed:
			return slipDay(f), nil
		case read.Other != 0:
			return slipDay(f), map[Field]string{f: strconv.Itoa(int(read.Other))}
		}
		return "", nil
	}
}

// doubtPassDay offers no day on which the plot cannot have been weeded.
func doubtPassDay(c *scene, entry string) (slip, map[Field]string) {
	about, mend := doubtDay(fOn, passReach)(c, entry)
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

// sayDay says a date, with its year if that is not this one.
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
