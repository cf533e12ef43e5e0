package menu

import (
	"errors"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Inbound is a text from a grower, with what is stored about the phone. Instants are Unix seconds.
type Inbound struct {
	Text        string
	State       []byte // SMS dialogue; nil: none
	StateAt     int64  // when the last screen of State was sent
	Elsewhere   []byte // dialogue that was dropped on another channel; nil: none
	Prompt      []byte // the question that a digit answers; nil: none
	PromptAt    int64  // when the prompt was sent
	PromptUntil int64  // last second in which the prompt is valid
	Now         int64
}

// Outcome is what to answer to a text and what to store.
type Outcome struct {
	Reply     string     // "" = no answer
	Kind      string     // kind of the message
	State     []byte     // nil: no dialogue any more
	Spoke     bool       // the dialogue showed a screen: State is new, and its time starts now
	Prompt    []byte     // nil: no prompt any more
	PromptSet bool       // Prompt is new: its time starts now and ends with PromptEnd
	PromptEnd engine.Day // last day of a new Prompt
	Send      []Note
	TakenUp   bool // the dialogue from elsewhere is offered again, here
}

// texting is one text being answered: a scene of the SMS dialogue, with the prompt.
type texting struct {
	*scene
	book  Book
	in    Inbound
	entry string // the text without punctuation around it
	live  bool   // in.State could be read
	out   Outcome
}

// Text answers a text from a grower: STOP, START, HELP and their like before anything else; then the prompt, unless a
// dialogue was begun after it; then the dialogue; then home.
func (m *Menu) Text(b Book, in Inbound) (Outcome, error) {
	s, err := m.session(in.State)
	live := err == nil
	if !live {
		s = &session{Lang: b.Language()}
	}
	t := &texting{scene: m.scene(b, SMS, s), book: b, in: in, entry: answer.Digits(in.Text), live: live}
	t.out = Outcome{Prompt: in.Prompt, Kind: "reply"}
	if live {
		t.out.State = in.State
	}
	switch word := t.keyword(); {
	case word != wordNone:
		return t.answerKeyword(word)
	case b.Silent():
		return t.askWho()
	}
	p, perr := decodePrompt(in.Prompt)
	typing := live && t.screen().Typed != nil
	answers := perr == nil && (!live || in.PromptAt >= in.StateAt) && b.Known() && isAnswer(t.entry, typing)
	switch {
	case answers && in.Now <= in.PromptUntil:
		return t.answerPrompt(p)
	case errors.Is(err, errVersion):
		return t.spoke(m.Dial(b, SMS, in.State, ""))
	case answers, !live && b.Known() && isDigit(t.entry):
		// No question is open, or the time to answer is over: the meaning of a digit is never guessed.
		t.out.Prompt, t.out.State = nil, nil
		return t.says("sms.late", text.Args{"code": m.opt.DialCode})
	case live, movedAway(b, in.State):
		return t.spoke(m.Enter(b, SMS, in.State, in.Text))
	}
	return t.offer(in.Elsewhere)
}

// keyword is the word that the text says, wordNone for any other text. A keyword also sets the language of a grower
// who is not registered. Where the name of a plot is asked for, several words are a name, not a keyword.
func (t *texting) keyword() keyword {
	word, lang := t.m.keyword(t.entry)
	if lang != "" && t.s.Lang == "" && !t.book.Known() {
		t.s.Lang = lang
		t.setLanguage()
	}
	asksName := t.live && t.screen().Typed != nil && t.screen().Typed.Name
	switch {
	case t.entry == languageKey:
		return wordLanguage
	case asksName && strings.ContainsAny(t.entry, " \n\t") && !mustStop(t.entry, word):
		return wordNone
	}
	return word
}

// mustStop reports whether a text of several words ends all texts also where a name is asked for. STOP itself, which
// every text mentions, always does. END and its like may begin a name, if the whole text can be one.
func mustStop(e string, word keyword) bool {
	if word != wordStop {
		return false
	}
	_, noName := answer.Name(e)
	return noName != nil || firstWord(e) == text.Fold("STOP")
}

func (t *texting) answerKeyword(word keyword) (Outcome, error) {
	code := text.Args{"code": t.m.opt.DialCode}
	switch word {
	case wordStop:
		return t.stop()
	case wordStart:
		if !t.book.Known() || t.book.Silent() {
			return t.offer(t.in.Elsewhere)
		}
		if err := t.book.Start(); err != nil {
			return Outcome{}, err
		}
		t.out.Kind = "start"
		return t.says("sms.started", code)
	case wordHelp:
		t.out.Kind = "help"
		return t.says("sms.help", code)
	case wordLanguage:
		if t.live {
			return t.spoke(t.m.Enter(t.book, SMS, t.in.State, languageKey))
		}
		t.begin()
		return t.spoke(t.reply(t.enter(languageKey)))
	}
	return t.offer(t.in.Elsewhere) // wordMenu
}

// stop ends all texts. It is confirmed once; after that a STOP gets no answer.
func (t *texting) stop() (Outcome, error) {
	confirmed := t.book.Stopped()
	if err := t.book.Stop(); err != nil {
		return Outcome{}, err
	}
	t.out = Outcome{Kind: "stop"}
	switch {
	case confirmed:
		return t.out, nil
	case !t.book.Known() || t.book.Silent(): // a stranger is not told that there are plots
		return t.says("sms.stopped-unknown", nil)
	}
	return t.says("sms.stopped", nil)
}

// askWho asks who uses a number that was silent for long. No prompt is answered before that question, and an answer
// to a prompt is not taken for an answer to the question.
func (t *texting) askWho() (Outcome, error) {
	if !t.live || t.unasked() || t.in.Prompt != nil && t.in.PromptAt >= t.in.StateAt {
		return t.offer(nil)
	}
	return t.spoke(t.m.Enter(t.book, SMS, t.in.State, t.in.Text))
}

// isAnswer reports whether an entry answers the text that asked last, or tries to: the entry has a figure in it. Such
// an entry must not open the menu, where the next digit would mean something else. Where a dialogue waits for words
// (typing), an entry that begins with a word is for the dialogue, unless it says hours.
func isAnswer(e string, typing bool) bool {
	at := strings.IndexFunc(e, func(r rune) bool { return r >= '0' && r <= '9' })
	_, _, took := answer.Took(e)
	return at == 0 || took || at > 0 && !typing
}

// answerPrompt answers the prompt with the entry. If the entry is none of its answers, the grower is told so and the
// prompt stays valid.
func (t *texting) answerPrompt(p prompt) (Outcome, error) {
	a, ok := t.answer(p, t.entry)
	switch {
	case t.err != nil:
		return Outcome{}, t.err
	case !ok && p.Asked == askedUndo && !t.ofTrial(p):
		return t.says("sms.hours-how", text.Args{"code": t.m.opt.DialCode})
	case !ok:
		return t.says("sms.not-an-answer", text.Args{"code": t.m.opt.DialCode})
	}
	t.out.Reply, t.out.Kind, t.out.Prompt = a.text, a.kind, nil
	if a.next != nil {
		b, err := a.next.encode()
		if err != nil {
			return Outcome{}, err
		}
		t.out.Prompt, t.out.PromptEnd, t.out.PromptSet = b, a.until, true
	}
	return t.out, nil
}

// says answers with a text of the catalogue and leaves the dialogue where it is.
func (t *texting) says(k text.Key, args text.Args) (Outcome, error) {
	t.out.Reply = t.t(k, args)
	if t.err != nil {
		return Outcome{}, t.err
	}
	return t.out, nil
}

// offer begins the dialogue, or offers again what was left in state.
func (t *texting) offer(state []byte) (Outcome, error) {
	if state == nil {
		t.begin()
		return t.spoke(t.reply(nil))
	}
	return t.spoke(t.m.Dial(t.book, SMS, state, ""))
}

// spoke answers with a screen of the dialogue.
func (t *texting) spoke(state []byte, r Reply, err error) (Outcome, error) {
	if err != nil {
		return Outcome{}, err
	}
	t.out.State, t.out.Spoke = state, true
	t.out.Reply, t.out.Send, t.out.TakenUp = r.Text, r.Send, r.Resumed
	return t.out, nil
}
