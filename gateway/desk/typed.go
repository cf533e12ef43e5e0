package desk

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
)

// Staff type what growers type, and it is read by the same functions. What cannot be used is a mistake of its field.
// What is likely a slip is asked back: sent again as it is, it counts.

// sure is the beginning of the name of a hidden field that has what was asked back.
const sure = "sure-"

// doubt asks back what was typed in a field, unless it was asked back before.
func (f *form) doubt(name, what string) {
	if f.Get(sure+name) == f.text(name) {
		return
	}
	f.Set(sure+name, f.text(name))
	f.wrong(name, what+" If that is right, send it again as it is.")
}

// Sure returns the hidden fields of what was asked back.
func (f *form) Sure() (list []field) {
	for name := range f.Values {
		if strings.HasPrefix(name, sure) {
			list = append(list, field{Name: name, Value: f.Get(name)})
		}
	}
	slices.SortFunc(list, func(a, b field) int { return strings.Compare(a.Name, b.Name) })
	return list
}

// typed returns what package answer has read in a field, and marks a refusal or a doubt.
func typed[T any](r *request, name string, show func(T) string, v T, d answer.Doubt[T], refused *answer.Refusal) T {
	switch {
	case refused != nil:
		r.form.wrong(name, r.d.o.Menu.Refused(refused))
	case d != (answer.Doubt[T]{}):
		what := "This was read as " + show(v) + "."
		if d.Meant != nil {
			what += " Did you mean " + show(*d.Meant) + "?"
		}
		r.form.doubt(name, what)
	}
	return v
}

// plain is typed for what is never doubted.
func plain[T any](r *request, name string, v T, refused *answer.Refusal) T {
	return typed(r, name, nil, v, answer.Doubt[T]{}, refused)
}

func showCM(cm float64) string   { return number(cm) + " cm" }
func showHours(h float64) string { return number(h) + " h" }

// number formats a number without needless decimals.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

var isoDay = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

// typedPastDay reads a day up to today, or how many days ago it was; a mistake if the field is empty.
func (r *request) typedPastDay(name string, today engine.Day, reach answer.Reach) engine.Day {
	entry := r.form.text(name)
	if isoDay.MatchString(entry) {
		entry = strings.ReplaceAll(entry, "-", "")
	}
	d, doubt, refused := answer.PastDate(entry, today, reach, r.d.o.Menu.DateWords())
	return typed(r, name, longDay, d, doubt, refused)
}

// typedLength reads a length in cm; 0 if the field is empty.
func (r *request) typedLength(name string, l answer.Length) float64 {
	if r.form.text(name) == "" {
		return 0
	}
	cm, doubt, refused := answer.CM(r.form.text(name), l)
	return typed(r, name, showCM, cm, doubt, refused)
}

// typedArea reads the size of a plot in m2; 0 if the field is empty.
func (r *request) typedArea(name string) float64 {
	if r.form.text(name) == "" {
		return 0
	}
	size, doubt, refused := answer.Area(r.form.text(name), r.d.o.Menu.AreaUnits())
	return typed(r, name, func(s answer.Size) string { return number(s.M2) + " m²" }, size, doubt, refused).M2
}

// typedTool reads the width of a tool, or its two settings; no tool if the field is empty.
func (r *request) typedTool(name string, rowCM float64) engine.Tool {
	if r.form.text(name) == "" {
		return engine.Tool{}
	}
	show := func(w answer.Range) string {
		if w.From == w.To {
			return showCM(w.From)
		}
		return number(w.From) + " to " + showCM(w.To)
	}
	w, doubt, refused := answer.Tool(r.form.text(name), rowCM)
	if w = typed(r, name, show, w, doubt, refused); w.From == w.To {
		w.To = 0
	}
	return engine.Tool{WidthCM: w.From, MaxWidthCM: w.To}
}

// typedWhole reads a whole number; 0 if the field is empty.
func (r *request) typedWhole(name string, from, to int) int {
	if r.form.text(name) == "" {
		return 0
	}
	n, refused := answer.Days(r.form.text(name), from, to) // the word for days may follow
	return plain(r, name, n, refused)
}

// typedHours reads how long a weeding took; 0 if the field is empty.
func (r *request) typedHours(name string, areaM2 float64) float64 {
	if r.form.text(name) == "" {
		return 0
	}
	h, doubt, refused := answer.Hours(r.form.text(name), areaM2)
	return typed(r, name, showHours, h, doubt, refused)
}

// chosen returns which of so many choices a field has, by its number.
func (r *request) chosen(name string, choices int) int {
	n, err := strconv.Atoi(r.form.text(name))
	if err != nil || n < 0 || n >= choices {
		r.form.wrong(name, "Choose one of the list.")
		return 0
	}
	return n
}

// numbered returns the values and labels of a list to choose from, whose values are numbers from first on.
func numbered(first int, labels ...string) (pairs []string) {
	for i, label := range labels {
		pairs = append(pairs, fmt.Sprint(first+i), label)
	}
	return pairs
}
