package menu

import (
	"errors"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Inbound is a text from a grower, together with what is stored about the phone. Times are in Unix seconds.
type Inbound struct {
	Text        string
	State       []byte // state of the SMS dialogue; nil if there is none
	StateAt     int64  // when the last screen of State was sent
	Elsewhere   []byte // state of a dialogue that was dropped on another channel; nil if there is none
	Prompt      []byte // the open question, which a digit answers; nil if there is none
	PromptAt    int64  // when the prompt was sent
	PromptUntil int64  // last second in which the prompt is valid
	Now         int64
}

// Outcome is the answer to a text, and what the caller must store.
type Outcome struct {
	Reply     string     // "" if no answer is sent
	Screen    ScreenID   // the screen that Reply shows; "" if it shows none
	Kind      string     // kind of the message
	State     []byte     // state of the SMS dialogue; nil if it has ended
	Spoke     bool       // the dialogue showed a screen: the caller stores State with the current time
	Prompt    []byte     // the open question; nil if there is none any more
	PromptSet bool       // Prompt is new: the caller stores it with the current time and with PromptEnd
	PromptEnd engine.Day // the last day on which a new Prompt can be answered
	Send      []Note
	TakenUp   bool // the reply offers to resume the dialogue of Inbound.Elsewhere
}

// texting is the work on one incoming text: a scene of the SMS dialogue, and the prompt.
type texting struct {
	*scene
	book  Book
	in    Inbound
	entry string // the text without punctuation around it
	live  bool   // in.State holds a dialogue that this menu can read
	out   Outcome
}

// Text answers a text from a grower. Keywords such as STOP, START and HELP come first. Then the entry may answer the
// prompt, unless a dialogue began after the prompt. Then the entry may answer the dialogue. Any other entry shows the
// home screen.
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
		// No question is open, or the time to answer has passed. The menu does not guess what the digit means.
		t.out.Prompt, t.out.State = nil, nil
		return t.says("sms.late", text.Args{"code": m.opt.DialCode})
	case movedAway(b, in.State):
		return t.spoke(m.Enter(b, SMS, in.State, in.Text))
	case live:
		return t.spoke(t.answerScreen(t.book, in.Text))
	}
	return t.offer(in.Elsewhere)
}

// keyword returns the keyword in the text, or wordNone for any other text. If the grower is not registered, the keyword
// also sets the language. If the dialogue is asking for the name of a plot, a text of several words is a name and not a
// keyword.
func (t *texting) keyword() keyword {
	word, lang := t.m.keyword(t.entry)
	if lang != "" && t.s.Lang == "" && !t.book.Known() {
		t.s.Lang = lang
		t.setLanguage()
	}
	asksName := t.live && t.screen().Typed != nil && t.screen().Typed.Name
	switch {
	case t.entry == LanguageKey:
		return wordLanguage
	case asksName && strings.ContainsAny(t.entry, " \n\t") && !mustStop(t.entry, word):
		return wordNone
	}
	return word
}

// mustStop reports whether a text of several words ends all texts even if the dialogue is asking for the name of a
// plot. A text that begins with STOP always does, because the texts of welcome and help tell growers to text STOP.
// Another word for STOP, such as END in "End plot", does so only if the text cannot be a name, for example because it
// is too long.
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
			return t.spoke(t.m.Enter(t.book, SMS, t.in.State, LanguageKey))
		}
		t.begin()
		return t.spoke(t.reply(t.enter(LanguageKey)))
	}
	return t.offer(t.in.Elsewhere) // the word is wordMenu
}

// stop ends all texts. The first STOP is confirmed by one text; later ones get no answer.
func (t *texting) stop() (Outcome, error) {
	confirmed := t.book.Stopped()
	if err := t.book.Stop(); err != nil {
		return Outcome{}, err
	}
	t.out = Outcome{Kind: "stop"}
	switch {
	case confirmed:
		return t.out, nil
	case !t.book.Known() || t.book.Silent(): // another person may have the phone, so the reply does not mention plots
		return t.says("sms.stopped-unknown", nil)
	}
	return t.says("sms.stopped", nil)
}

// askWho asks who uses a number that was silent for a long time. If the dialogue already shows that question and no
// reminder was sent after it, the text is read as the answer. Otherwise the text may be meant for the reminder, so the
// question is asked (again) and nothing else happens.
func (t *texting) askWho() (Outcome, error) {
	if !t.live || t.unasked() || t.in.Prompt != nil && t.in.PromptAt >= t.in.StateAt {
		return t.offer(nil)
	}
	return t.spoke(t.m.Enter(t.book, SMS, t.in.State, t.in.Text))
}

// isAnswer reports whether an entry answers, or tries to answer, the question of the prompt. Every entry with a digit
// does, because such an entry must not open the menu, where the next digit would mean something else. One exception: if
// the dialogue waits for a typed answer (typing), an entry that begins with a word is for the dialogue, unless the
// entry gives hours ("masaa 3").
func isAnswer(e string, typing bool) bool {
	at := strings.IndexFunc(e, func(r rune) bool { return r >= '0' && r <= '9' })
	_, _, _, took := answer.Took(e)
	return at == 0 || took || at > 0 && !typing
}

// answerPrompt answers the prompt with the entry. If the entry is not a possible answer, the reply says so and the
// prompt stays valid.
func (t *texting) answerPrompt(p prompt) (Outcome, error) {
	a, ok := t.answer(p, t.entry)
	switch {
	case t.err != nil:
		return Outcome{}, t.err
	case !ok && p.Asked == askedLook:
		return t.says("sms.look-how", text.Args{"plot": t.labels(p.Plots[:1])})
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

// says answers with a text of the catalogue. The dialogue stays on its screen.
func (t *texting) says(k text.Key, args text.Args) (Outcome, error) {
	t.out.Reply = t.t(k, args)
	if t.err != nil {
		return Outcome{}, t.err
	}
	return t.out, nil
}

// offer begins a dialogue. If state holds an unfinished dialogue, the reply asks whether to resume that one.
func (t *texting) offer(state []byte) (Outcome, error) {
	if state == nil {
		t.begin()
		return t.spoke(t.reply(nil))
	}
	return t.spoke(t.m.Dial(t.book, SMS, state, ""))
}

// spoke answers with a screen of the dialogue and stores the dialogue's state.
func (t *texting) spoke(state []byte, r Reply, err error) (Outcome, error) {
	if err != nil {
		return Outcome{}, err
	}
	t.out.State, t.out.Spoke = state, true
	t.out.Reply, t.out.Screen, t.out.Send, t.out.TakenUp = r.Text, r.Screen, r.Send, r.Resumed
	return t.out, nil
}
