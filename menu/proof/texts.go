package proof

import (
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/menu/text"
)

// proveTexts writes every text that is sent by SMS in a language, each with the longest values.
func proveTexts(m *menu.Menu, lang string) (texts []SMSText, problems []string) {
	cat := m.SMSCatalogue()
	long := longestValues(m, lang)
	problem := func(k text.Key, format string, a ...any) {
		what := fmt.Sprintf(format, a...)
		problems = append(problems, fmt.Sprintf("%s: %s: text %s %s", cat.Position(lang, k), k, k, what))
	}
	for _, k := range cat.Keys(lang) {
		group, _, _ := strings.Cut(string(k), ".")
		if group != "ring" && group != "sms" && group != "turn" {
			continue
		}
		two := strings.HasSuffix(string(k), "-two")
		args := text.Args{}
		for _, name := range cat.Args(lang, k) {
			v, ok := long[name]
			if !ok {
				problem(k, "wants {%s}, which nothing fills in", name)
			}
			args[name] = v
		}
		if two {
			args["plot"] = long["both"]
		}
		if strings.HasPrefix(string(k), "sms.left-") { // here the value {next} begins with a space
			args["next"] = " " + long["next"].(string)
		}
		body, err := cat.Text(lang, k, args)
		if err != nil {
			problem(k, "cannot be written: %v", err)
			continue
		}
		t := SMSText{lang, k, m.Encode(lang, body)}
		texts = append(texts, t)
		said := menu.Said{Key: k, Args: args, Text: body}
		if flaw(body) != "" {
			problem(k, "%s:\n%s", flawOf(said), body)
		}
		if limit := menu.MaxSegments(t.Encoding.Alphabet, group == "ring" && !two); t.Segments > limit {
			problem(k, "takes %d segments, at most %d are allowed%s:\n%s", t.Segments, limit, longestValue(said),
				body)
		}
	}
	return texts, problems
}

// longestValues returns the longest value of each argument of the texts that are sent by SMS.
func longestValues(m *menu.Menu, lang string) text.Args {
	cat := m.SMSCatalogue()
	// say returns the text k of the catalogue. If the catalogue lacks the text, say returns the string otherwise,
	// because Prove already reports missing texts.
	say := func(k text.Key, args text.Args, otherwise string) string {
		if s, err := cat.Text(lang, k, args); err == nil {
			return s
		}
		return otherwise
	}
	// longest returns the longest of the texts whose keys begin with prefix and that need no other values than args.
	longest := func(prefix string, args text.Args) string {
		long := ""
		for _, k := range cat.Keys(lang) {
			if strings.HasPrefix(string(k), prefix) {
				if s := say(k, args, ""); text.USSDOctets(s) > text.USSDOctets(long) {
					long = s
				}
			}
		}
		return long
	}
	date := ""
	for i := range engine.Day(365) {
		day := engine.Date(2026, 1, 1) + i
		_, month, d := day.Date()
		if s := cat.Date(lang, day.Weekday(), d, month); text.USSDOctets(s) > text.USSDOctets(date) {
			date = s
		}
	}
	span := say("day.span", text.Args{"opens": date, "closes": date}, date)
	best := say("day.best", text.Args{"span": span, "best": date}, span)
	why := longest("end.", nil)
	part := longest("part.", text.Args{"n": 99})
	next := longest("next.", text.Args{"part": part, "opens": date, "closes": date, "span": span, "end": date,
		"days": best, "best": date, "look": date, "why": why, "pull": date})
	args := text.Args{"plot": longLabel, "opens": date, "tool": "12.5", "cm": "0.5", "next": next,
		"seen": longest("see.leaves.", nil)}
	answer := say("sms.looked", args, "")
	if s := say("sms.too-big", args, ""); text.USSDOctets(s) > text.USSDOctets(answer) {
		answer = s
	}
	asked := text.Args{"from": longLabel + " +447700900999", "to": longLabel, "circle": ownCircle, "tool": longLabel,
		"days": span, "date": date, "other": date, "amount": "987654321.99", "area": "9999999.9"}
	plots := text.Args{"a": longLabel, "b": longLabel}
	// The shortest that a reminder says of a turn.
	turn := say("turn.on", text.Args{"days": date, "tool": longLabel}, "")
	return text.Args{
		"turn": turn, "no": menu.MaxPlots, "name": longLabel + " " + longPhone,
		"also": longest("look.", args), "seen": args["seen"], "why": why, "answer": answer,
		"plot": longLabel, "a": longLabel, "b": longLabel, "both": say("plot.both", plots, longLabel),
		"keys": longest("sms.keys", plots), "code": m.DialCode(),
		"contact": strings.Repeat("W", menu.MaxContact), "next": next,
		"n": 12, "tool": "12.5", "cm": "0.5", "hours": "99", "saved": "999",
		"first":  say("doubt.hours-min", text.Args{"h": 22, "min": 55}, ""), // more hours are asked without minutes
		"second": say("doubt.hours-min", text.Args{"h": 22, "min": 55}, ""),
		"was":    span, "span": span, "date": date, "opens": date, "best": date, "closes": date, "end": date,
		"pull": date, "look": date, "days": best,
		"from": asked["from"], "question": longest("circle.ask-", asked), "about": longest("circle.about-", asked),
		"amount": asked["amount"], "circle": ownCircle, "kind": longest("circle.kind-", nil),
	}
}

// Longest returns a text that is sent by SMS with its longest values. It returns false for a text of a screen, for an
// unknown one, and for one that cannot be written.
func Longest(m *menu.Menu, lang string, k text.Key) (SMSText, bool) {
	texts, _ := proveTexts(m, lang)
	i := slices.IndexFunc(texts, func(t SMSText) bool { return t.Key == k })
	if i < 0 {
		return SMSText{}, false
	}
	return texts[i], true
}
