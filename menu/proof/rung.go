package proof

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/menu/text"
)

// Many people answer a text with the words that stand beside a digit. This file sends growers reminders and answers
// them in these words, which the menu must take for the same answer as the digit. Otherwise a grower who writes "done"
// might log the contrary, or is asked again and again.

// digitWords finds the digits of a text that asks something, with the words beside each.
var digitWords = regexp.MustCompile(`(?:^|[ :])([0-9]) ([^,.:;?!0-9।]+)`)

// ringLabels are names of plots that no language has as words of an answer.
var ringLabels = []string{"Wxq", "Zjv"}

// question is what a text has asked a grower.
type question struct {
	g      *grower
	prompt []byte
	digits map[string]string // for each outcome, the digit that leads to it
}

// checkRung sends reminders for plots of every age, and checks the answers to all texts that ring. A text that none of
// these plots gets is checked with the questions of the others.
func (w *walker) checkRung() error {
	byKey := map[text.Key]question{} // also has, without a question, the replies that were checked
	for age := range engine.Day(60) {
		tool, hand, again := lineSeason(age), lineSeason(age), lineSeason(age)
		hand.Tool.WidthCM = 30 // does not fit between the rows
		again.Passes = []engine.Pass{{On: today - 10, With: engine.ByTool}}
		for _, s := range []engine.Season{tool, hand, again} {
			if len(s.Passes) > 0 && age < 25 {
				continue
			}
			if err := w.ring(byKey, s); err != nil {
				return err
			}
		}
	}
	cat := w.m.SMSCatalogue()
	args := longestValues(w.m, w.lang)
	args["plot"], args["a"], args["b"] = ringLabels[0], ringLabels[0], ringLabels[1]
	for _, k := range cat.Keys(w.lang) {
		if !strings.HasPrefix(string(k), "ring.") {
			continue
		}
		shown, err := cat.Text(w.lang, k, args)
		if err != nil {
			continue // proveTexts reports it
		}
		fewest := map[fault]found(nil)
		for _, of := range questionsOf(k, byKey) {
			wrong, err := w.misread(k, shown, of)
			if err != nil {
				return err
			}
			if fewest == nil || len(wrong) < len(fewest) {
				fewest = wrong
			}
		}
		for at, what := range fewest {
			w.faults[at] = what
		}
	}
	return nil
}

// questionsOf returns the question of a text that rings or, if it is not known, those of all texts about as many plots.
func questionsOf(k text.Key, byKey map[text.Key]question) (all []question) {
	if q, ok := byKey[k]; ok {
		return []question{q}
	}
	for _, other := range slices.Sorted(maps.Keys(byKey)) {
		isRing := strings.HasPrefix(string(other), "ring.")
		if isRing && strings.HasSuffix(string(other), "-two") == strings.HasSuffix(string(k), "-two") {
			all = append(all, byKey[other])
		}
	}
	return all
}

// ring sends a grower the reminder that is due on a plot, and the one that is due on two such plots, and stores their
// questions. It also checks the texts that answer the grower and ask something in turn. If no reminder is due, ring
// does nothing.
func (w *walker) ring(byKey map[text.Key]question, s engine.Season) error {
	p, err := s.Plan(today)
	if err != nil {
		return err
	}
	reminder, why := p.Reminder(nil)
	if why != engine.NotSilent {
		return nil
	}
	g := stranger()
	g.Registered, g.Lang = true, w.lang
	var bells []menu.Bell
	for i, label := range ringLabels {
		s.Plot.Label = label
		g.Seasons[i+1] = s
		bells = append(bells, menu.Bell{No: i + 1, Season: s, Plan: p, Reminder: reminder})
		w.said = w.said[:0]
		r, err := w.m.Ring(w.lang, bells...)
		if errors.Is(err, menu.ErrApart) {
			return nil
		}
		if err != nil {
			return err
		}
		for _, said := range slices.Clone(w.said) {
			if _, known := byKey[said.Key]; known || r.Prompt == nil || !strings.HasPrefix(string(said.Key), "ring.") {
				continue
			}
			if byKey[said.Key], err = w.ask(byKey, g.clone(), r.Prompt, 2); err != nil {
				return err
			}
		}
	}
	return nil
}

// send answers a question. outcome is the reply with the records after it, as a text.
func (w *walker) send(q question, entry string) (out menu.Outcome, to *grower, outcome string, err error) {
	to = q.g.clone()
	w.said = w.said[:0]
	out, err = w.m.Text(to, menu.Inbound{Text: entry, Prompt: q.prompt, PromptUntil: 1})
	outcome = out.Reply
	for no := range len(to.Seasons) {
		s := to.Seasons[no+1]
		outcome += fmt.Sprint(s.Passes, s.Sightings)
	}
	return out, to, outcome, err
}

// ask answers a question with each digit. If a reply asks something in turn, its words are checked, too, for so many
// replies in a row. Of replies, only words that are taken for another answer are reported: beside their digits stands
// also what is no answer, such as a number of people.
func (w *walker) ask(byKey map[text.Key]question, g *grower, prompt []byte, replies int) (question, error) {
	q := question{g, prompt, map[string]string{}}
	_, _, refused, err := w.send(q, "9") // no text offers the digit 9
	if err != nil {
		return q, err
	}
	for d := range 9 {
		out, to, outcome, err := w.send(q, strconv.Itoa(d))
		if err != nil {
			return q, err
		}
		if outcome != refused {
			q.digits[outcome] = strconv.Itoa(d)
		}
		if !out.PromptSet || replies == 0 {
			continue
		}
		var key text.Key
		for _, s := range w.said {
			if strings.HasPrefix(string(s.Key), "sms.") && s.Text != "" && strings.HasSuffix(out.Reply, s.Text) {
				key = s.Key
			}
		}
		if _, known := byKey[key]; known {
			continue
		}
		byKey[key] = question{}
		next, err := w.ask(byKey, to, out.Prompt, replies-1)
		if err != nil {
			return q, err
		}
		wrong, err := w.misread(key, out.Reply, next)
		if err != nil {
			return q, err
		}
		for at, what := range wrong {
			w.faults[at] = what
		}
	}
	return q, nil
}

// misread returns the words beside the digits of a text that do not mean what the digits mean. Beside a digit that is
// alone may stand anything, such as "when it is done".
func (w *walker) misread(k text.Key, shown string, q question) (map[fault]found, error) {
	wrong := map[fault]found{}
	choices := digitWords.FindAllStringSubmatch(shown, -1)
	for _, f := range choices {
		digit, words := f[1], strings.TrimSpace(f[2])
		if !strings.Contains(w.m.SMSCatalogue().Template(w.lang, k), digit+" ") {
			continue // a value, such as a date
		}
		_, _, outcome, err := w.send(q, words)
		if err != nil {
			return nil, err
		}
		means := q.digits[outcome]
		what := fmt.Sprintf("%q beside %s is read as the answer %s", words, digit, means)
		switch {
		case means == digit, means == "" && (len(choices) == 1 || !strings.HasPrefix(string(k), "ring.")):
			continue
		case means == "":
			what = fmt.Sprintf("%q beside %s is not understood as an answer; [said] lists the words that are", words,
				digit)
		}
		wrong[fault{k, what}] = found{"by sms, " + what + ":\n" + shown, 0}
	}
	return wrong, nil
}
