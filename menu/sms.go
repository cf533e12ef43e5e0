package menu

import (
	"errors"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Inbound is a text from a grower, with what is stored about the phone.
// Instants are Unix seconds.
type Inbound struct {
	Text        string
	State       []byte // SMS dialogue; nil: none
	StateAt     int64  // when its last screen was sent
	Elsewhere   []byte // dialogue that was dropped on another channel; nil: none
	Prompt      []byte // what a digit would mean; nil: none
	PromptAt    int64
	PromptUntil int64 // the prompt's last second
	Now         int64
}

// Outcome is what to answer and what to keep.
type Outcome struct {
	Reply     string     // "" = no answer
	Kind      string     // kind of the message
	State     []byte     // nil: no dialogue any more
	Prompt    []byte     // nil: no prompt any more
	PromptEnd engine.Day // last day of Prompt; meaningful where PromptSet
	PromptSet bool       // Prompt is new: its time starts now and ends with PromptEnd
	Send      []Note
	TakenUp   bool // the dialogue from elsewhere is offered again, here
}

// Text answers a text from a grower: STOP, START and HELP before anything
// else; then the prompt, unless a dialogue was begun after it; then the
// dialogue; then home.
func (m *Menu) Text(b Book, in Inbound) (Outcome, error) {
	out := Outcome{State: in.State, Prompt: in.Prompt, Kind: "reply"}
	s, err := decodeSession(in.State)
	live := err == nil && m.screens[s.Screen] != nil
	old := errors.Is(err, errVersion)
	if !live {
		s = &session{Lang: b.Language()}
		out.State = nil
	}
	c := m.scene(b, SMS, s)
	e := answer.Digits(in.Text)
	word, spoken := m.keyword(e)
	if spoken != "" && s.Lang == "" && !b.Known() { // the word tells the language
		s.Lang = spoken
		c.setLanguage()
	}
	switch {
	case e == languageKey:
		word = wordLanguage
	case live && c.screen().Typed != nil && c.screen().Typed.Name && strings.ContainsAny(e, " \n\t") && !mustStop(e, word):
		word = wordNone
	}
	switch word {
	case wordStop:
		said := b.Stopped()
		if err := b.Stop(); err != nil {
			return Outcome{}, err
		}
		if said { // one confirmation, and then no text any more
			return Outcome{Kind: "stop"}, nil
		}
		k := text.Key("sms.stopped")
		if !b.Known() || b.Silent() { // a stranger is not told that there are plots
			k = "sms.stopped-unknown"
		}
		return Outcome{Reply: c.t(k, nil), Kind: "stop"}, c.err
	case wordStart:
		if b.Known() && !b.Silent() {
			if err := b.Start(); err != nil {
				return Outcome{}, err
			}
			out.Reply, out.Kind = c.t("sms.started", text.Args{"code": m.opt.DialCode}), "start"
			return out, c.err
		}
		return m.dialogue(c, out, in.Elsewhere, "")
	case wordHelp:
		out.Reply, out.Kind = c.t("sms.help", text.Args{"code": m.opt.DialCode}), "help"
		return out, c.err
	case wordMenu:
		return m.dialogue(c, out, in.Elsewhere, "")
	case wordLanguage:
		if !live {
			c.begin()
			if in.State, err = c.s.encode(); err != nil {
				return Outcome{}, err
			}
		}
		return m.dialogue(c, out, in.State, languageKey)
	}
	if b.Silent() {
		// No prompt is answered before it is known who texts, and no answer to
		// one is taken for an answer to that.
		if !live || c.unasked() || in.Prompt != nil && in.PromptAt >= in.StateAt {
			return m.dialogue(c, out, nil, "")
		}
		return m.dialogue(c, out, in.State, in.Text)
	}
	p, perr := decodePrompt(in.Prompt)
	answers := perr == nil && (!live || in.PromptAt >= in.StateAt) && b.Known() && isAnswer(e, live && c.screen().Typed != nil)
	switch {
	case answers && in.Now <= in.PromptUntil:
		a, ok := c.answer(p, e)
		if c.err != nil {
			return Outcome{}, c.err
		}
		if ok {
			return m.settle(out, a)
		}
		k := text.Key("sms.not-an-answer")
		if p.Asked == askedUndo && !c.ofTrial(p) {
			k = "sms.hours-how"
		}
		out.Reply = c.t(k, text.Args{"code": m.opt.DialCode})
		return out, c.err
	case old:
		return m.dialogue(c, out, in.State, "")
	case answers, !live && b.Known() && len(e) == 1 && e[0] >= '0' && e[0] <= '9':
		// Nothing is asked, or what was asked last is over: never guess what a
		// digit was meant for.
		out.Prompt, out.State = nil, nil
		out.Reply = c.t("sms.late", text.Args{"code": m.opt.DialCode})
		return out, c.err
	case live, movedAway(b, in.State):
		return m.dialogue(c, out, in.State, in.Text)
	}
	return m.dialogue(c, out, in.Elsewhere, "")
}

// mustStop reports that a text of several words ends all texts, also where a
// name is asked for: STOP itself, which every text tells, always does; END and
// its like may begin a name, if the whole can be one.
func mustStop(e string, word keyword) bool {
	if word != wordStop {
		return false
	}
	_, noName := answer.Name(e)
	return noName != nil || firstWord(e) == text.Fold("STOP")
}

// isAnswer reports that an entry answers the text that spoke last, or attempts
// to: it has a figure in it. It must not open the menu, where the next digit would
// mean something else. Where a dialogue waits for words (typing), what begins with
// a word is for that, unless it says hours.
func isAnswer(e string, typing bool) bool {
	at := strings.IndexFunc(e, func(r rune) bool { return r >= '0' && r <= '9' })
	_, _, took := answer.Took(e)
	return at == 0 || took || at > 0 && !typing
}

// settle turns an answered prompt into an outcome.
func (m *Menu) settle(out Outcome, a answered) (Outcome, error) {
	out.Reply, out.Kind, out.Prompt = a.text, a.kind, nil
	if a.next != nil {
		b, err := a.next.encode()
		if err != nil {
			return Outcome{}, err
		}
		out.Prompt, out.PromptEnd, out.PromptSet = b, a.until, true
	}
	return out, nil
}

// dialogue takes one step of the SMS dialogue; without an entry it begins, and
// what was left in state is offered again.
func (m *Menu) dialogue(c *scene, out Outcome, state []byte, entry string) (Outcome, error) {
	var next []byte
	var r Reply
	var err error
	switch {
	case entry == "" && state == nil:
		c.begin()
		next, r, err = c.reply(nil)
	case entry == "":
		next, r, err = m.Dial(c.b, SMS, state, "")
	default:
		next, r, err = m.Enter(c.b, SMS, state, entry)
	}
	if err != nil {
		return Outcome{}, err
	}
	out.State, out.Reply, out.Send, out.TakenUp = next, r.Text, r.Send, r.Resumed
	return out, nil
}
