package menu

import (
	"bytes"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"rowbell/menu/text"
)

// Answers are read leniently and refused in the catalogue's words. These are
// the texts a refusal may ask for, with the values it gives; {read} is what
// was typed, cut short, {from} and {to} are the limits.
//
//	refuse.empty                       nothing was typed
//	refuse.choice         read allowed not one of the digits offered ("1-3")
//	refuse.keys           read         nothing is offered but back and home
//	refuse.whole          read from to not a whole number, or outside the limits
//	refuse.days           read from to the same, of days ago
//	refuse.people         read from to the same, of people
//	refuse.date           read         not a date
//	refuse.date-none      read         no such day: 31/2
//	refuse.date-ahead     read date year days  more than {days} days ahead
//	refuse.date-future    read date year       ahead, where nothing ahead will do
//	refuse.date-old       read date year days  more than {days} days back
//	refuse.length         read         not a length
//	refuse.length-range   cm from to   a length, in cm, outside the limits
//	refuse.gaps-range     cm gaps each from to  a length over {gaps} gaps gives {each} cm; limits are of the whole
//	refuse.widths         read         not two different widths
//	refuse.area           read         not an area
//	refuse.area-range     area from to in m2, outside the limits
//	refuse.hours          read         not hours
//	refuse.hours-range    hours from to
//	refuse.name           read         letters, digits and spaces only
//	refuse.name-long      read max     too many characters

// Refusal says in the catalogue's words what was read and what would do.
type Refusal struct {
	Key  text.Key
	Args text.Args
}

// Error is the refusal for a developer; a grower gets the text that Key names.
func (r *Refusal) Error() string { return "menu: answer refused: " + string(r.Key) }

// maxShown bounds what is read back of a refused entry, in characters: enough
// to know it again, few enough for a small screen.
const maxShown = 12

// refuse makes the refusal of the entry s.
func refuse(key text.Key, s string, args text.Args) *Refusal {
	if clean(s) == "" {
		return &Refusal{Key: "refuse.empty"}
	}
	all := text.Args{"read": shown(s)}
	for name, v := range args {
		all[name] = v
	}
	return &Refusal{Key: key, Args: all}
}

// shown is an entry as it may be read back: printable, at most maxShown
// characters.
func shown(s string) string {
	var out []rune
	for _, r := range foldDigits(strings.ToValidUTF8(strings.TrimSpace(s), "?")) {
		if unicode.IsSpace(r) {
			r = ' '
		}
		if !unicode.IsPrint(r) || r > 0xFFFF { // what two units would be taken up by
			continue
		}
		if out = append(out, r); len(out) == maxShown {
			break
		}
	}
	if strings.TrimSpace(string(out)) == "" { // a picture alone: that something came is read back
		return "?"
	}
	return string(out)
}

// foldDigits writes the decimal digits of every script, full-width characters
// and the marks that phones put for them in ASCII, and drops what cannot be
// seen.
func foldDigits(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < unicode.MaxASCII:
			return r
		case unicode.Is(unicode.Nd, r):
			return '0' + digitValue(r)
		case r >= '！' && r <= '～': // full-width forms stand in ASCII's order
			return r - '！' + '!'
		case r == '‐' || r == '‑' || r == '–' || r == '—' || r == '−':
			return '-'
		case r == '٫' || r == '।' || r == '॰': // Arabic decimal separator, the stops of Devanagari
			return '.'
		case r == '،':
			return ','
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r): // marks of direction, joiners
			return -1
		}
		return r
	}, s)
}

// digitValue is the value of a decimal digit. Unicode lays each script's ten
// digits out in order, and a range of the category holds whole sets of ten.
func digitValue(r rune) rune {
	for _, t := range unicode.Nd.R16 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	for _, t := range unicode.Nd.R32 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	return 0
}

// clean makes an entry ready to be read: ASCII digits, small letters, single
// spaces, no brackets around it, no dot after it.
func clean(s string) string {
	s = strings.Join(strings.Fields(strings.ToLower(foldDigits(s))), " ")
	return strings.TrimRight(strings.TrimLeft(s, "([{ "), ")]}. ")
}

// digits is an entry where one or a few digits are expected, freed of what
// stands around them: "1.", "(1)" and " 1 " are "1".
func digits(s string) string { return strings.Trim(clean(s), `.,:;()[]{}"' `) }

// parseChoice reads one of the digits on offer.
func parseChoice(s string, offered []byte) (byte, *Refusal) {
	d := digits(s)
	if len(d) == 1 && bytes.Contains(offered, []byte(d)) {
		return d[0], nil
	}
	if len(offered) == 0 {
		return 0, refuse("refuse.keys", s, nil)
	}
	return 0, refuse("refuse.choice", s, text.Args{"allowed": span(offered)})
}

// span writes the digits on offer: "1-4", or "1, 3" where one is left out.
func span(offered []byte) string {
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

var wholeForm = regexp.MustCompile(`^\d{1,6}$`)

// parseWhole reads a whole number between two limits.
func parseWhole(s string, from, to int) (int, *Refusal) {
	return wholeOr(s, from, to, "", "refuse.whole")
}

// parseDays reads a whole number of days.
func parseDays(s string, from, to int) (int, *Refusal) {
	return wholeOr(s, from, to, "d", "refuse.whole")
}

// parseDaysAgo reads how many days ago something was.
func parseDaysAgo(s string, most int) (int, *Refusal) { return wholeOr(s, 0, most, "d", "refuse.days") }

// maxPeople is how many may work at one plot; more is a slip of the thumb.
const maxPeople = 50

// parsePeople reads how many people worked.
func parsePeople(s string) (int, *Refusal) { return wholeOr(s, 1, maxPeople, "p", "refuse.people") }

// wholeOr reads a whole number, with its unit or without.
func wholeOr(s string, from, to int, unit string, key text.Key) (int, *Refusal) {
	d := digits(s)
	if unit != "" {
		d = strings.TrimSuffix(strings.TrimSuffix(inUnits(d), unit), " ")
	}
	if wholeForm.MatchString(d) {
		if n, err := strconv.Atoi(d); err == nil && n >= from && n <= to {
			return n, nil
		}
	}
	return 0, refuse(key, s, text.Args{"from": from, "to": to})
}
