package menu

import (
	"fmt"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// TextProblems tells of the outgoing texts that would not do with their longest
// values: too many segments, a value that nothing fills in. It takes a moment
// where Prove takes seconds.
func (m *Menu) TextProblems() []string {
	var problems []string
	for _, lang := range m.cat.Languages() {
		_, own := m.proveTexts(lang)
		problems = append(problems, own...)
	}
	return problems
}

// proveTexts fills every outgoing text with the longest value of each
// argument.
func (m *Menu) proveTexts(lang string) (texts []SMSText, problems []string) {
	long := m.longestValues(lang)
	for _, k := range m.texts.Keys(lang) {
		group, _, _ := strings.Cut(string(k), ".")
		if group != "ring" && group != "sms" {
			continue
		}
		args := text.Args{}
		for _, name := range m.texts.Args(lang, k) {
			v, ok := long[name]
			if !ok {
				problems = append(problems, fmt.Sprintf("%s: text %s wants {%s}, which nothing fills in", lang, k, name))
			}
			args[name] = v
		}
		if strings.HasSuffix(string(k), "-two") {
			args["plot"] = long["both"]
		}
		if strings.HasPrefix(string(k), "sms.left-") { // said only where it is news
			args["next"] = " " + long["next"].(string)
		}
		body, err := m.texts.Text(lang, k, args)
		if err != nil {
			problems = append(problems, fmt.Sprintf("%s: %v", lang, err))
			continue
		}
		t := SMSText{Lang: lang, Key: k, Text: body}
		var e text.Encoding
		t.Segments, e = m.segments(lang, body)
		t.Alphabet = e.Alphabet
		texts = append(texts, t)
		if hole := unfilled(body); hole != "" {
			problems = append(problems, fmt.Sprintf("%s: text %s shows %s:\n%s", lang, k, hole, body))
		}
		limit := maxSegments(t.Alphabet, group == "ring" && !strings.HasSuffix(string(k), "-two"))
		if t.Segments > limit {
			problems = append(problems, fmt.Sprintf("%s: text %s takes %d segments, at most %d are allowed:\n%s", lang, k, t.Segments, limit, body))
		}
	}
	return texts, problems
}

// longestValues is the widest value of each argument of an outgoing text.
func (m *Menu) longestValues(lang string) text.Args {
	p := speech{cat: m.texts, lang: lang}
	d := ""
	for i := range engine.Day(365) {
		if s := p.date(engine.Date(2026, 1, 1) + i); text.USSDOctets(s) > text.USSDOctets(d) {
			d = s
		}
	}
	span, err := m.texts.Text(lang, "day.span", text.Args{"opens": d, "closes": d})
	if err != nil {
		span = d
	}
	next := ""
	for _, k := range m.texts.Keys(lang) {
		if strings.HasPrefix(string(k), "next.") {
			if s, err := m.texts.Text(lang, k, text.Args{"opens": d, "closes": d, "span": span, "end": d}); err == nil && len(s) > len(next) {
				next = s
			}
		}
	}
	both, err := m.texts.Text(lang, "plot.both", text.Args{"a": longLabel, "b": longLabel})
	if err != nil {
		both = longLabel
	}
	keys, err := m.texts.Text(lang, "sms.keys-two", text.Args{"a": longLabel, "b": longLabel})
	if err != nil {
		keys = ""
	}
	return text.Args{"keys": keys, "plot": longLabel, "both": both, "a": longLabel, "b": longLabel, "code": m.opt.DialCode, "n": 12, "next": next,
		"tool": "12.5", "cm": "0.5", "hours": "99", "saved": "999", "was": span, "span": span, "date": d, "opens": d, "best": d, "closes": d, "end": d}
}
