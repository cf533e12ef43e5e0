package answer

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"

	"rowbell/menu/text"
)

// Range has the lower and the upper limit of a quantity. Both limits are within the range.
type Range struct{ From, To float64 }

// Contains reports whether x is within the range. NaN is in no range.
func (r Range) Contains(x float64) bool { return x >= r.From && x <= r.To }

// args returns the two limits as values for the text of a refusal.
func (r Range) args() text.Args { return text.Args{"from": oneDecimal(r.From), "to": oneDecimal(r.To)} }

// numberForm matches a number as typed, with a comma or a point before the decimals.
const numberForm = `(\d{1,7}(?:[.,]\d{1,3})?|[.,]\d{1,3})`

// amount returns the value of a number that numberForm matched.
func amount(s string) float64 {
	x, err := strconv.ParseFloat(strings.Replace("0"+s, ",", ".", 1), 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

// tenth rounds to one decimal, because growers do not measure more exactly.
func tenth(x float64) float64 { return math.Round(x*10) / 10 }

// oneDecimal prepares a number for the text of a refusal, with at most one decimal.
func oneDecimal(x float64) text.Decimal { return text.Decimal{Value: tenth(x), Places: 1} }

// Choice reads an entry that must be one of the offered digits, and refuses any other entry.
func Choice(s string, offered []byte) (byte, *Refusal) {
	d := Digits(s)
	if len(d) == 1 && bytes.Contains(offered, []byte(d)) {
		return d[0], nil
	}
	if len(offered) == 0 {
		return 0, Refuse("refuse.keys", s, nil)
	}
	return 0, Refuse("refuse.choice", s, text.Args{"allowed": digitsOffered(offered)})
}

// digitsOffered lists the offered digits for a text: "1-4", or "1, 3" if a digit between them is not offered.
func digitsOffered(offered []byte) string {
	first, last := offered[0], offered[len(offered)-1]
	if len(offered) > 2 && int(last)-int(first) == len(offered)-1 {
		return string(first) + "-" + string(last)
	}
	list := make([]string, len(offered))
	for i, d := range offered {
		list[i] = string(d)
	}
	return strings.Join(list, ", ")
}

// Whole reads a whole number that is at least from and at most to.
func Whole(s string, from, to int) (int, *Refusal) { return wholeIn(s, from, to, "", "refuse.whole") }

// Days reads a whole number of days that is at least from and at most to: 20, 20 days.
func Days(s string, from, to int) (int, *Refusal) { return wholeIn(s, from, to, "d", "refuse.whole") }

// DaysAgo reads how many days ago something happened. DaysAgo accepts 0 to most days.
func DaysAgo(s string, most int) (int, *Refusal) { return wholeIn(s, 0, most, "d", "refuse.days") }

// maxPeople is the largest number of people that is accepted for one weeding. A larger number is likely a typing
// mistake (judgement).
const maxPeople = 50

// People reads how many people worked: 2, 2 people. It accepts 1 to maxPeople.
func People(s string) (int, *Refusal) { return wholeIn(s, 1, maxPeople, "p", "refuse.people") }

// weeksForm matches a number of weeks, which may be typed where days are asked for: seedlings of 3 weeks.
var weeksForm = regexp.MustCompile(`^(?:wk (\d{1,3})|(\d{1,3}) ?wk)$`)

const daysAWeek = 7

var wholeForm = regexp.MustCompile(`^\d{1,6}$`)

// wholeIn reads a whole number that is at least from and at most to, with or without the unit after it. Any other entry
// is refused with the text key.
func wholeIn(s string, from, to int, unit string, key text.Key) (int, *Refusal) {
	d, each := Digits(s), 1
	if unit != "" {
		d = inUnits(d)
		if f := weeksForm.FindStringSubmatch(d); f != nil && unit == "d" {
			d, each = f[1]+f[2], daysAWeek
		}
		d = strings.TrimSuffix(strings.TrimSuffix(d, unit), " ")
	}
	if wholeForm.MatchString(d) {
		if n, err := strconv.Atoi(d); err == nil && n*each >= from && n*each <= to {
			n *= each
			return n, nil
		}
	}
	return 0, Refuse(key, s, text.Args{"from": from, "to": to})
}

// maxBags is the largest harvest of one plot, in bags, that is accepted (judgement).
const maxBags = 10_000

var bagsForm = regexp.MustCompile(`^` + numberForm + `(?: ?bag)?$`)

// Bags reads a harvest in bags: 12, 7.5, 7,5, 12 bags. It refuses more than maxBags.
func Bags(s string) (float64, *Refusal) {
	if f := bagsForm.FindStringSubmatch(inUnits(s)); f != nil {
		if n := amount(f[1]); n >= 0 && n <= maxBags {
			return n, nil
		}
	}
	return 0, Refuse("refuse.bags", s, nil)
}
