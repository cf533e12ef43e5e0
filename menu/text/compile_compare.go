package text

import "slices"

// compare holds a language against the source language.
func (s *sheet) compare() {
	texts := s.original.lang.texts
	for k, from := range texts {
		if e, ok := s.lang.texts[k]; ok {
			s.values(k, e, from)
		} else if !s.failed[k] {
			s.fail(Missing, string(k), "is missing; %s has it", s.original.places()[string(k)])
			s.wrong[len(s.wrong)-1].Source = from.String()
		}
	}
	for k := range s.lang.texts {
		if _, ok := texts[k]; !ok {
			s.fail(Unknown, string(k), "is not in %s.toml", Source)
			delete(s.lang.texts, k)
		}
	}
}

// values checks that a text uses the values of the original, all of them and
// no other. A form of a plural may leave one out where a form of the original
// does so too, and the number itself in any case: "one day ago".
func (s *sheet) values(k Key, e, from entry) {
	var room [8]string // on the stack: every text of every language comes here
	for _, arg := range e.args(room[:0]) {
		if !from.uses(arg) {
			s.fail(Values, string(k), "{%s} is not given to this text in %s.toml", arg, Source)
			s.failed[k] = true
		}
	}
	counted := e.forms != nil || from.forms != nil
	for _, arg := range from.args(room[:0]) {
		if counted && arg == countArg {
			continue
		}
		if lacks := func(t template) bool { return t != nil && !t.uses(arg) }; !e.uses(arg) || slices.ContainsFunc(e.templates(), lacks) && !slices.ContainsFunc(from.templates(), lacks) {
			s.fail(Values, string(k), "leaves out {%s}, which %s.toml has", arg, Source)
		}
	}
}
