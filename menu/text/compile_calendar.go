package text

import (
	"slices"
	"strings"
)

// calendar compiles the table [calendar].
func (s *sheet) calendar(t map[string]any) {
	if t == nil {
		return
	}
	s.known("calendar", t, "weekdays", "months", "month_words", "date", "day_month", "today", "yesterday")
	c := &s.lang.calendar
	c.weekdays = s.list(t, "weekdays", 7)
	c.months = s.list(t, "months", 12)
	c.date = s.pattern(t, "date", "weekday", "day", "month")
	c.dayMonth = s.pattern(t, "day_month", "day", "month")
	s.monthWords(c.months, "months")
	if _, ok := t["month_words"]; ok {
		s.monthWords(s.list(t, "month_words", 12), "month_words")
	}
	s.dayWords(t, "today", 0)
	s.dayWords(t, "yesterday", -1)
}

func (s *sheet) list(t map[string]any, name string, n int) template {
	key := "calendar." + name
	list, _ := t[name].([]any)
	out := make(template, 0, n)
	for _, v := range list {
		if w, ok := v.(string); ok && strings.TrimSpace(w) != "" {
			out = append(out, s.letters(key, w))
		}
	}
	if len(list) != n || len(out) != n {
		s.fail(Faulty, key, "must be a list of %d words", n)
		return nil
	}
	return out
}

func (s *sheet) pattern(t map[string]any, name string, allowed ...string) template {
	key := "calendar." + name
	words, ok := t[name].(string)
	if !ok {
		s.fail(Faulty, key, "must be a pattern such as {day} {month}")
		return nil
	}
	pattern := s.template(key, words)
	var args []string
	for _, p := range pattern {
		if p.arg != "" {
			args = append(args, p.arg)
		}
	}
	for _, a := range args {
		if !slices.Contains(allowed, a) {
			s.fail(Faulty, key, "{%s} is not known here; known are %s", a, strings.Join(allowed, ", "))
		}
	}
	for _, need := range []string{"day", "month"} {
		if !slices.Contains(args, need) {
			s.fail(Faulty, key, "{%s} is missing", need)
		}
	}
	return pattern
}
