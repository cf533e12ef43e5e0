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
	// Interrupted is set if a text that was sent after the prompt asked the grower to dial. What is then answered by
	// text may be meant for that question.
	Interrupted bool
	SentAt      int64 // when the network got the text, if that is known; else 0
	// Last is set if the phone gets no further answer for a while, unless this text is understood: earlier texts in a
	// row were not. A text that is not understood is then answered with a word about help.
	Last bool
}

// heldSeconds is how long before the question of a prompt a text must have been sent to be no answer to it. Two clocks
// may differ by so much.
const heldSeconds = 60

// beforePrompt reports whether the network had the text before the question of the prompt was asked.
func (in Inbound) beforePrompt() bool { return in.SentAt > 0 && in.SentAt < in.PromptAt-heldSeconds }

// isDigits reports whether the text is digits alone, whose meaning depends on the question.
func (t *texting) isDigits() bool {
	other := func(r rune) bool { return r != ' ' && (r < '0' || r > '9') }
	return t.entry != "" && !strings.ContainsFunc(t.entry, other)
}

// Outcome is the answer to a text, and what the caller must store.
type Outcome struct {
	Reply     string     // "" if no answer is sent
	Screen    ScreenID   // the screen that Reply shows; "" if it shows none
	Kind      string     // kind of the message
	Progress  bool       // the text was understood: an entry that was taken, or a keyword
	State     []byte     // state of the SMS dialogue; nil if it has ended
	Spoke     bool       // the dialogue showed a screen: the caller stores State with the current time
	Prompt    []byte     // the open question; nil if there is none any more
	PromptSet bool       // Prompt is new: the caller stores it with the current time and with PromptEnd
	PromptEnd engine.Day // the last day on which a new Prompt can be answered
	Again     bool       // Prompt is the question that was open, asked once more: the caller stores it with its old end
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

// Text answers a text from a grower. Keywords such as STOP, START and HELP come first. Then the text answers what was
// shown last: the prompt or the screen of the dialogue. A text that is no answer is asked again; it never opens a menu
// in which the next digit would mean something else. With nothing open, the reply says so. The first text of an unknown
// number begins the dialogue.
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
	case t.stopsInWords():
		return t.stop()
	case !t.asksName() && t.m.spoken().Asks(in.Text, answer.SenseWho):
		return t.answerKeyword(wordHelp)
	case b.Silent():
		return t.askWho()
	case b.Known() && !t.asksName() && t.m.spoken().Asks(in.Text, answer.SenseAgain):
		return t.plantedAgain()
	}
	p, perr := decodePrompt(in.Prompt)
	asked := perr == nil && b.Known()
	open := asked && in.Now <= in.PromptUntil
	last := !live || in.PromptAt >= in.StateAt
	switch {
	case open && last && in.beforePrompt() && t.isDigits(): // they are for an earlier question
		return t.askAgain(p)
	case open && last && in.Interrupted:
		return t.askAgain(p)
	case open && last:
		return t.answerPrompt(p)
	case errors.Is(err, errVersion):
		return t.spoke(m.Dial(b, SMS, in.State, ""))
	case asked && last && (!live || t.isForPrompt()): // the time to answer has passed
		return t.nothingAsked()
	case movedAway(b, in.State):
		return t.entered(m.Enter(b, SMS, in.State, in.Text))
	case live && open:
		return t.answerDialogue(&p)
	case live:
		return t.answerDialogue(nil)
	case b.Known():
		return t.nothingAsked()
	}
	return t.offer(in.Elsewhere)
}

// stopsInWords reports whether the text asks in other words than STOP for no more texts. If the dialogue is asking for
// the name of a plot, a text that can be a name is a name.
func (t *texting) stopsInWords() bool {
	if t.asksName() {
		if _, noName := answer.Name(t.entry); noName == nil {
			return false
		}
	}
	return t.m.spoken().Stops(t.in.Text)
}

// asksName reports whether the dialogue is asking for the name of a plot.
func (t *texting) asksName() bool {
	return t.live && t.screen().Typed != nil && t.screen().Typed.Name
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
	switch {
	case t.entry == LanguageKey:
		return wordLanguage
	case t.asksName() && strings.ContainsAny(t.entry, " \n\t") && !mustStop(t.entry, word):
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
	// A sentence that begins with a keyword may be from a machine. A START that ends a STOP is meant in any case.
	t.out.Progress = !strings.ContainsAny(t.entry, " \n\t") || word == wordStart && t.book.Stopped()
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
			return t.entered(t.m.Enter(t.book, SMS, t.in.State, LanguageKey))
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
	t.out = Outcome{Kind: "stop", Progress: true}
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
	return t.entered(t.m.Enter(t.book, SMS, t.in.State, t.in.Text))
}

// plantedAgain begins the dialogue at the question when the plot was planted again. A grower with several plots chooses
// the plot first.
func (t *texting) plantedAgain() (Outcome, error) {
	t.out.Progress = true
	t.begin()
	return t.spoke(t.reply(t.choose(Choice{Set: map[Field]string{fGoal: "again", FieldPage: "0"}, To: "plots"})))
}

// isForPrompt reports whether a text that the prompt cannot read is for the prompt and not for the dialogue before it.
// Texts with a digit are, and if the dialogue waits for a typed answer, those that begin with a digit or give hours.
func (t *texting) isForPrompt() bool {
	at := strings.IndexFunc(t.entry, func(r rune) bool { return r >= '0' && r <= '9' })
	_, _, _, took := answer.Took(t.entry)
	return at == 0 || took || at > 0 && t.screen().Typed == nil
}

// answerPrompt answers the prompt with the text. If the text is not an answer, the question is asked again. One
// exception: if the dialogue before the prompt waits for words, such as a name, the text goes to the dialogue.
func (t *texting) answerPrompt(p prompt) (Outcome, error) {
	if m, ok := t.read(p, t.in.Text); ok {
		if done, out, err := t.apply(m); done || err != nil {
			return out, err
		}
	}
	if t.live && t.screen().Typed != nil && !t.isForPrompt() {
		return t.answerDialogue(nil)
	}
	return t.askAgain(p)
}

// apply does what an answer to the prompt means. done is false if the answer is not possible now.
func (t *texting) apply(m meant) (done bool, out Outcome, err error) {
	var a answered
	ok := true
	if m.part != nil {
		a = t.partly(m.as, m.part, m.share)
	} else {
		a, ok = t.answer(m.as, m.entry)
	}
	if t.err != nil || !ok {
		return false, Outcome{}, t.err
	}
	t.out.Reply, t.out.Kind, t.out.Prompt, t.out.Progress = a.text, a.kind, nil, true
	t.out.Send = t.send
	if a.next != nil {
		b, err := a.next.encode()
		if err != nil {
			return false, Outcome{}, err
		}
		t.out.Prompt, t.out.PromptEnd, t.out.PromptSet = b, a.until, true
	}
	return true, t.out, nil
}

// askAgain asks the question of the prompt again, with its choices. The prompt stays as it is, unless one of its plots
// is not open any more. Thanks after a weeding that is stored get no reply: a question about its hours would look as if
// they were not stored.
func (t *texting) askAgain(p prompt) (Outcome, error) {
	if !t.stands(p) {
		t.out.Prompt = nil
		return t.says("sms.changed", nil)
	}
	if p.Asked == askedUndo && t.thanks() {
		return t.out, nil
	}
	t.out.Again = true
	return t.unread(func() string { return t.askedText(p) })
}

func (t *texting) thanks() bool { return t.m.spoken().Asks(t.in.Text, answer.SenseThanks) }

// nothingAsked says that no question is open, or that all texts are stopped. Thanks get no reply.
func (t *texting) nothingAsked() (Outcome, error) {
	if t.thanks() {
		return t.out, nil
	}
	t.out.State, t.out.Prompt = nil, nil
	return t.unread(func() string {
		if t.book.Stopped() {
			return t.t("sms.stopped", nil)
		}
		return t.t("sms.late", text.Args{"code": t.m.opt.DialCode})
	})
}

// answerDialogue answers the screen of the dialogue. A text in words that the screen does not know may still answer the
// prompt p, which was asked before the screen; p is nil if there is none. Thanks for a screen that asks nothing get no
// reply.
func (t *texting) answerDialogue(p *prompt) (Outcome, error) {
	if t.unasked() || t.orphaned() || t.err != nil {
		return t.spoke(t.answerScreen(t.book, t.in.Text))
	}
	if t.screen().Rest && t.thanks() {
		return t.out, nil
	}
	refused := t.enter(t.in.Text)
	if refused == nil || t.err != nil {
		return t.entered(t.reply(refused))
	}
	if p != nil && !answer.HasDigit(t.entry) {
		if m, ok := t.read(*p, t.in.Text); ok {
			if done, out, err := t.apply(m); done || err != nil {
				return out, err
			}
		}
	}
	out, err := t.spoke(t.reply(refused))
	if err != nil || !t.in.Last {
		return out, err
	}
	t.out.Screen = ""
	return t.unread(nil)
}

// unread answers a text that was not understood: with again or, if the phone then gets no answer for a while, with a
// word about help.
func (t *texting) unread(again func() string) (Outcome, error) {
	switch {
	case !t.in.Last:
		t.out.Reply = again()
	case t.m.opt.Contact != "":
		t.out.Reply = t.t("sms.lost-ask", text.Args{"contact": t.m.opt.Contact, "code": t.m.opt.DialCode})
	default:
		t.out.Reply = t.t("sms.lost", text.Args{"code": t.m.opt.DialCode})
	}
	if t.err != nil {
		return Outcome{}, t.err
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

// entered is spoke after an entry, which is understood unless the reply says why it was refused.
func (t *texting) entered(state []byte, r Reply, err error) (Outcome, error) {
	t.out.Progress = !r.Refused
	return t.spoke(state, r, err)
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
