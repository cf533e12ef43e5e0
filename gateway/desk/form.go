package desk

import (
	"net/url"
	"strings"
)

// form is what was typed into a form, with what is wrong in it. A form with mistakes is shown again as it was typed.
type form struct {
	url.Values
	mistakes map[string]string // by the name of the field
}

func newForm(v url.Values) *form {
	if v == nil {
		v = url.Values{}
	}
	return &form{v, map[string]string{}}
}

// filled returns a form with values to begin with: names and values in turn.
func filled(pairs ...string) *form {
	f := newForm(nil)
	for i := 0; i+1 < len(pairs); i += 2 {
		f.Set(pairs[i], pairs[i+1])
	}
	return f
}

// text returns a field without spaces around it.
func (f *form) text(name string) string { return strings.TrimSpace(f.Get(name)) }

// wrong says what is wrong in a field. The first mistake of a field stays.
func (f *form) wrong(name, what string) {
	if f.mistakes[name] == "" {
		f.mistakes[name] = what
	}
}

// ok reports whether there are no mistakes.
func (f *form) ok() bool { return len(f.mistakes) == 0 }

// field is a field of a form for the template "field".
type field struct {
	Name, Label, Hint, Value, Mistake string
	Type                              string // of the input element
	Options                           []option
	Required, Auto                    bool // Auto: it gets the focus
	Complete                          string
}

// option is a choice of a field.
type option struct {
	Value, Label string
	Chosen       bool
}

// Field returns a field for one line of text.
func (f *form) Field(name, label, hint string) field {
	return field{Name: name, Label: label, Hint: hint, Value: f.Get(name), Mistake: f.mistakes[name], Type: "text"}
}

// Secret returns a field for a password, which is never shown again. complete is the value of the attribute
// autocomplete.
func (f *form) Secret(name, label, hint, complete string) field {
	return field{Name: name, Label: label, Hint: hint, Mistake: f.mistakes[name], Type: "password", Complete: complete,
		Required: true}
}

// Choice returns a field with a list to choose from: values and labels in turn.
func (f *form) Choice(name, label, hint string, pairs ...string) field {
	x := f.Field(name, label, hint)
	for i := 0; i+1 < len(pairs); i += 2 {
		x.Options = append(x.Options, option{pairs[i], pairs[i+1], f.has(name, pairs[i])})
	}
	return x
}

func (f *form) has(name, value string) bool {
	for _, v := range f.Values[name] {
		if v == value {
			return true
		}
	}
	return false
}

// Need marks a field that must not be empty.
func (x field) Need() field { x.Required = true; return x }

// First gives a field the focus when the page is shown.
func (x field) First() field { x.Auto = true; return x }

// With sets the attribute autocomplete.
func (x field) With(complete string) field { x.Complete = complete; return x }

// As sets the type of the input element, such as "date".
func (x field) As(kind string) field { x.Type = kind; return x }

// Mistakes returns all that is wrong, for the top of the page.
func (f *form) Mistakes() map[string]string { return f.mistakes }
