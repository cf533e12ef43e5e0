package menu

import (
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// A grower may answer a prompt in words. This file says what the words mean: it turns them into the digit that
// answers the prompt.

// vocabulary makes the vocabulary of short answers from the catalogue.
func vocabulary(cat *text.Catalogue) *answer.Vocabulary {
	said := map[answer.Sense][]string{}
	for sense, list := range cat.Said() {
		said[answer.Sense(sense)] = list
	}
	return answer.NewVocabulary(said)
}

// meant is what a text means as an answer to a prompt.
type meant struct {
	entry string    // the digit, or the hours; "" if the text has no such meaning
	as    prompt    // the prompt that entry answers: the open one, or a part of its meaning
	part  []subject // the plots of which only a part is weeded; nil if the text does not say so
	share float64   // the part that is weeded; 0 if the text does not say it
}

// said is one answer to a prompt: how the text may say it, and the entry that means the same.
type said struct {
	answer.Option
	entry string
	as    prompt
}

// read reads a text as an answer to a prompt. A single digit is that digit, also if it is no choice of the prompt.
func (c *scene) read(p prompt, s string) (m meant, ok bool) {
	e := answer.Digits(s)
	if isDigit(e) {
		return meant{entry: e, as: p}, true
	}
	if p.Asked == askedCircle {
		if price, ok := c.readCirclePrice(p, s); ok {
			return meant{entry: price, as: p}, true
		}
	}
	if !c.stands(p) { // the names of its plots would be words of an answer
		return meant{}, false
	}
	if p.Asked == askedUndo || p.Asked == askedHours {
		for _, took := range []string{e, c.m.spoken().Plain(s, answer.SenseDone, answer.SenseYes, answer.SenseAbout)} {
			if _, _, _, hours := answer.Took(took); hours {
				return meant{entry: took, as: p}, true
			}
		}
	}
	part := p.Asked == askedPass || p.Asked == askedHand || p.Asked == askedPart || p.Rest
	q := answer.Question{Part: part, Counted: len(p.Plots) == 2}
	all := c.answers(p)
	for _, a := range all {
		q.Options = append(q.Options, a.Option)
	}
	switch {
	case p.Asked == askedUndo && !p.Rest, p.Asked == askedHours, p.Asked == askedPass && len(p.Plots) == 2:
		q.Ignored = []answer.Sense{answer.SenseDone}
	}
	if part { // how many weeds are left is asked after the weeding is logged
		q.Ignored = append(q.Ignored, answer.SenseLeft)
	}
	if len(p.Plots) == 1 {
		q.Names = []string{c.labels(p.Plots)}
	}
	switch short := c.m.spoken().Short(s, q); short.Kind {
	case answer.Chosen:
		m = meant{entry: all[short.Option].entry, as: all[short.Option].as}
		m.as.Before = short.Before
		return m, !short.Before || c.freeYesterday(m.as.Plots)
	case answer.Half:
		if p.Asked == askedPart {
			entry, ok := partEntry(short.Share)
			return meant{entry: entry, as: p}, ok
		}
		m.part, m.share = p.Plots, short.Share
		if len(p.Plots) == 2 && short.Option >= 0 && all[short.Option].entry != "1" {
			m.part = p.Plots[short.Option-1 : short.Option]
		}
		return m, true
	}
	return meant{}, false
}

// These options are answers to several prompts.
var (
	doneOption   = answer.Option{Digit: '1', Senses: []answer.Sense{answer.SenseDone}, Denied: true, Past: true}
	notYetOption = answer.Option{Digit: '2', Senses: []answer.Sense{answer.SenseNotYet}, No: true}
)

// senseOption is an option that the words of one sense choose.
func senseOption(digit byte, sense answer.Sense) answer.Option {
	return answer.Option{Digit: digit, Senses: []answer.Sense{sense}}
}

// answers lists the answers to a prompt.
func (c *scene) answers(p prompt) (all []said) {
	add := func(as prompt, o answer.Option, entry string) {
		all = append(all, said{o, entry, as})
	}
	leaves := func() {
		for i, s := range []answer.Sense{"leaf-none", "leaf-one", "leaf-two", "leaf-four"} {
			add(p, senseOption('1'+byte(i), s), string('1'+byte(i)))
		}
	}
	switch p.Asked {
	case askedPass:
		return c.passAnswers(p)
	case askedHand:
		done := doneOption
		if len(p.Plots) == 2 {
			done.Senses = append(done.Senses, "both")
		}
		later := notYetOption
		later.Digit = 0 // the text names no digit for it
		add(p, done, "1")
		add(p, later, "2")
	case askedLeft:
		add(p, senseOption('1', "few"), "1")
		add(p, senseOption('2', "some"), "2")
		add(p, senseOption('3', "many"), "3")
		add(p, senseOption('0', "undo"), "0")
	case askedPart:
		for _, digit := range []byte("123") {
			add(p, answer.Option{Digit: digit}, string(digit))
		}
		add(p, answer.Option{Digit: '4', Senses: []answer.Sense{answer.SenseDone, "both"}}, "4") // "all" is in both
		add(p, senseOption('5', answer.SenseNotYet), "5")
	case askedUndo:
		add(p, senseOption('0', "undo"), "0")
		if p.Rest {
			add(p, doneOption, "1")
		}
	case askedHours:
		return hoursAnswers(p)
	case askedCircle:
		return circleAnswers(p)
	case askedLook:
		leaves()
	case askedWater:
		for i, s := range []answer.Sense{"dry", "mud", "fingers", "hand"} {
			add(p, senseOption('5'+byte(i), s), string('5'+byte(i)))
		}
		leaves()
	}
	return all
}

// passAnswers lists the answers to the question whether one plot or two are weeded.
func (c *scene) passAnswers(p prompt) (all []said) {
	add := func(as prompt, o answer.Option, entry string) { all = append(all, said{o, entry, as}) }
	if len(p.Plots) == 2 {
		both, notYet := senseOption('1', "both"), notYetOption
		both.Own, both.Past = []string{c.labels(p.Plots)}, true
		notYet.Digit = '4'
		add(p, both, "1")
		for i, digit := range []byte("23") {
			add(p, answer.Option{Digit: digit, Own: []string{c.labels(p.Plots[i : i+1])}, Past: true}, string(digit))
		}
		add(p, notYet, "4")
		return all
	}
	done, notYet, plain := doneOption, notYetOption, p
	done.Yes = p.Yes
	if p.Looked == c.today() { // the digits are a corrected leaf count
		plain.Looked = 0
		done.Digit, notYet.Digit = 0, 0
		for i, s := range []answer.Sense{"leaf-none", "leaf-one", "leaf-two", "leaf-four"} {
			add(p, senseOption('1'+byte(i), s), string('1'+byte(i)))
		}
	}
	add(plain, done, "1")
	add(plain, notYet, "2")
	if p.Looked != c.today() && !p.Rest { // a grower who was told to look first, or who corrects a look
		look := prompt{Asked: askedLook, Plots: p.Plots}
		for i, s := range []answer.Sense{"leaf-one", "leaf-two", "leaf-four"} {
			add(look, answer.Option{Senses: []answer.Sense{s}, Thing: true}, string('2'+byte(i)))
		}
	}
	_, plan := c.season(p.Plots[0].No)
	if !plan.Fit.Hand() && p.Looked != c.today() {
		add(p, senseOption('3', "too-big"), "3")
		if p.Small {
			add(p, senseOption('4', "too-small"), "4")
		}
	}
	return all
}

// freeYesterday reports whether a weeding of yesterday can be logged on all plots: they were planted before, and no
// pass is logged yesterday or today.
func (c *scene) freeYesterday(plots []subject) bool {
	for _, u := range plots {
		s := c.plotNo(u.No)
		n := len(s.Passes)
		if s.Plot.Planted >= c.saidOn()-1 || n > 0 && s.Passes[n-1].On >= c.saidOn()-1 {
			return false
		}
	}
	return true
}
