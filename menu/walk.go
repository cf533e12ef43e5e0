package menu

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// The screens that the walk itself knows.
const (
	sWelcome  ScreenID = "welcome"
	sHome     ScreenID = "home"
	sTongue   ScreenID = "tongue"   // the language, at first contact
	sLanguage ScreenID = "language" // the same, from anywhere
	sSaved    ScreenID = "saved"    // says that a new plot was saved
	sBefore   ScreenID = "(before)" // no screen: the one that the dialogue came from
)

// The entries that mean the same everywhere.
const (
	backKey     = "0"
	homeKey     = "00"
	languageKey = "000"
	moreKey     = "9" // the next page of a screen
	goOnKey     = "1"
	restartKey  = "2"
)

// scene is one step of a dialogue: the records, the state, the words.
type scene struct {
	speech
	m    *Menu
	b    Book
	ch   Channel
	s    *session
	send []Note

	entering bool // an entry is being worked in: lists are as they were shown
	acted    bool // the records were changed by the latest entry
}

// New builds the menu over a catalogue and checks that the graph is whole. It
// panics for a screen that leads nowhere: that is a mistake in this package.
func New(cat *text.Catalogue, o Options) (*Menu, error) {
	if o.DialCode == "" {
		o.DialCode = "*123#"
	}
	if o.StepM == 0 {
		o.StepM = 0.75
	}
	if len(o.Units) > maxUnits {
		return nil, fmt.Errorf("menu: %d area units are too many: a screen holds %d", len(o.Units), maxUnits)
	}
	if n := len(cat.Languages()); n > maxLanguages {
		return nil, fmt.Errorf("menu: %d languages are too many: a screen offers %d", n, maxLanguages)
	}
	m := &Menu{cat: cat, texts: cat.Spelled(o.ShiftTables), opt: o, units: answer.NewLocalUnits(o.Units), words: commands(cat), dates: dateWords(cat), screens: map[ScreenID]*Screen{}}
	for _, group := range [][]Screen{homeScreens(), newScreens(), plotScreens(), passScreens(), seeScreens(), waterScreens(), workScreens(), moneyScreens(), seasonScreens(), trialScreens(),
		toolScreens(), checkScreens(), plantingScreens(), helpScreens(), doubtScreens(), numberScreens()} {
		for _, s := range group {
			if m.screens[s.ID] != nil {
				panic("menu: two screens are called " + s.ID)
			}
			m.screens[s.ID] = &s
			m.order = append(m.order, s.ID)
		}
	}
	for _, s := range m.screens {
		for _, to := range s.leadsTo() {
			if m.screens[to] == nil {
				panic(fmt.Sprintf("menu: screen %s leads to %q, which does not exist", s.ID, to))
			}
		}
	}
	return m, nil
}

// leadsTo lists where a screen's own answers lead (lists made of records
// aside).
func (s *Screen) leadsTo() []ScreenID {
	var to []ScreenID
	for _, c := range s.Choices {
		if c.To != sBefore {
			to = append(to, c.To)
		}
	}
	if s.Typed != nil {
		to = append(to, s.Typed.To)
	}
	if s.When != nil {
		to = append(to, s.Else)
	}
	return to
}

// Dial begins a dialogue. An unfinished one (state) is offered again; a
// dialled path such as *123*1*5# is answered step by step from the start and
// stops at the first entry that is refused.
func (m *Menu) Dial(b Book, ch Channel, state []byte, dialled string) ([]byte, Reply, error) {
	entries, path := answer.Dialled(dialled, m.opt.DialCode)
	old, err := decodeSession(state)
	if err == nil && !path && m.unfinished(b, old) {
		s := old
		if c := m.scene(b, ch, s); !c.orphaned() {
			s.Paused, s.Page = true, 0
			state, r, err := c.reply(nil)
			r.Resumed = true
			return state, r, err
		}
	}
	s := &session{Lang: b.Language()}
	c := m.scene(b, ch, s)
	c.begin()
	if b.Silent() {
		entries = nil // none of them was meant for the question that comes now
	}
	if len(entries) == 0 && errors.Is(err, errVersion) {
		return c.reply(&Refusal{Key: "refuse.menu-new"})
	}
	for range maxTrail + 1 {
		if len(entries) == 0 {
			break
		}
		var e string
		e, entries = c.nextOf(entries)
		saved := c.acted && c.screen().Head != nil
		refused := c.enter(e)
		switch {
		case refused != nil && saved:
			return c.reply(nil) // the screen that says what was saved
		case refused != nil, c.err != nil, c.screen().Last, c.s.Screen == sDoubt:
			return c.reply(refused)
		}
	}
	return c.reply(nil)
}

// Unfinished reports that a saved dialogue has something to go on with.
func (m *Menu) Unfinished(b Book, state []byte) bool {
	s, err := decodeSession(state)
	return err == nil && m.unfinished(b, s)
}

// unfinished is the same of a dialogue that was read.
func (m *Menu) unfinished(b Book, s *session) bool {
	screen := m.screens[s.Screen]
	return screen != nil && !screen.Root && !screen.Rest && !screen.Last && b.Known() && !b.Silent() && len(s.Trail) > 0
}

// Enter takes one entry of a running dialogue. Without a state it can read it
// begins anew; after an upgrade that changed the menu it says so.
func (m *Menu) Enter(b Book, ch Channel, state []byte, entry string) ([]byte, Reply, error) {
	s, err := decodeSession(state)
	if movedAway(b, state) {
		c := m.scene(b, ch, &session{})
		c.begin()
		return c.reply(&Refusal{Key: "refuse.moved-number"})
	}
	if err != nil || m.screens[s.Screen] == nil {
		return m.Dial(b, ch, state, "")
	}
	c := m.scene(b, ch, s)
	if c.unasked() {
		return m.Dial(b, ch, nil, "")
	}
	if c.orphaned() {
		c.begin()
		return c.reply(&Refusal{Key: "refuse.plot-gone"})
	}
	return c.reply(c.enter(entry))
}

// orphaned reports that the plot which the dialogue is about was closed in the
// meantime, by another channel or with all the grower's data.
func (c *scene) orphaned() bool {
	no := c.s.int(fPlot)
	if no == 0 {
		return false
	}
	open, err := c.b.Plots()
	if err != nil {
		c.fail(err)
	}
	return !slices.Contains(open, no)
}

func (m *Menu) scene(b Book, ch Channel, s *session) *scene {
	c := &scene{speech: speech{cat: m.cat}, m: m, b: b, ch: ch, s: s}
	if ch == SMS {
		c.cat = m.texts
	}
	b.Via(ch.String())
	c.setLanguage()
	return c
}

// setLanguage takes the grower's language, else the one chosen before consent,
// else the first; on a number that was silent the one that this dialogue chose.
func (c *scene) setLanguage() {
	if c.b.Silent() {
		c.lang = c.m.language(c.s.Lang, c.b.Language())
		return
	}
	c.lang = c.m.language(c.b.Language(), c.s.Lang)
}

// language is the first of wanted that is offered, else the first offered.
func (m *Menu) language(wanted ...string) string {
	have := m.cat.Languages()
	for _, w := range wanted {
		if slices.Contains(have, w) {
			return w
		}
	}
	return have[0]
}

func (c *scene) screen() *Screen { return c.m.screens[c.s.Screen] }

// begin goes to the first screen: home, or first contact.
func (c *scene) begin() {
	*c.s = session{Lang: c.s.Lang}
	c.s.Screen = c.first()
}

// enter works one entry into the dialogue. A refusal leaves it where it was.
func (c *scene) enter(entry string) *Refusal {
	e := answer.Digits(entry)
	screen := c.screen()
	c.acted = false
	c.entering = true
	choices := c.choices(screen)
	c.entering = false
	if c.err != nil {
		return nil
	}
	switch {
	case e == homeKey:
		c.begin()
		return nil
	case e == languageKey:
		c.askLanguage()
		return nil
	case e == moreKey && c.s.Refused: // the screen again, without the reason
		return nil
	case e == moreKey && c.s.Page+1 < len(c.pages(nil)):
		c.s.Page++
		return nil
	case e == backKey && c.s.Page > 0:
		c.s.Page--
		return nil
	}
	c.s.Page = 0
	switch {
	case c.s.Paused:
		return c.enterPaused(e)
	case e == backKey:
		return c.back()
	}
	offered := make([]byte, len(choices))
	for i, choice := range choices {
		offered[i] = choice.Digit
	}
	digit, refused := answer.Choice(entry, offered)
	switch {
	case refused == nil:
		return c.choose(choices[bytes.IndexByte(offered, digit)])
	case c.s.Screen == sDoubt && c.typedAgain(entry):
		return nil
	case screen.Typed == nil, len(choices) > 0 && len(e) == 1 && e[0] >= '0' && e[0] <= '9':
		// Where there are choices, a lone digit is one of them or a slip.
		return refused
	}
	before := c.s.clone()
	if refused := screen.Typed.Parse(c, entry); refused != nil {
		c.s = before
		return refused
	}
	if screen.Typed.Doubt != nil {
		if about, mend := screen.Typed.Doubt(c, entry); about != "" {
			c.askDoubt(before, about, mend)
			return nil
		}
	}
	return c.follow(before, screen.Typed.Do, screen.Typed.To)
}

func (c *scene) choose(choice Choice) *Refusal {
	before := c.s.clone()
	if c.s.Screen == sDoubt {
		return c.settleDoubt(choice)
	}
	c.s.putAll(choice.Set)
	if choice.Prep != nil {
		if refused := choice.Prep(c); refused != nil {
			c.s = before
			return refused
		}
	}
	return c.follow(before, choice.Do, choice.To)
}

// askLanguage leaves the dialogue where it is and asks for the language.
func (c *scene) askLanguage() {
	c.s.Page, c.s.Paused = 0, false
	if id := c.s.Screen; id != sLanguage && id != sTongue {
		c.s.push(id)
		c.s.Screen = sLanguage
	}
}

func (c *scene) enterPaused(e string) *Refusal {
	digit, refused := answer.Choice(e, []byte(goOnKey+restartKey))
	switch string(digit) {
	case goOnKey:
		c.s.Paused = false
	case restartKey:
		c.begin()
	}
	return refused
}

func (c *scene) back() *Refusal {
	n := len(c.s.Trail)
	if n == 0 {
		if !c.screen().Root {
			c.begin()
			return nil
		}
		return &Refusal{Key: "refuse.no-back"}
	}
	to := c.s.Trail[n-1]
	if page := c.s.int(fPage); to == c.s.Screen && page > 0 {
		c.s.put(fPage, strconv.Itoa(page-1)) // from a further page of a list
	}
	c.s.Screen, c.s.Trail = to, c.s.Trail[:n-1]
	if to != sDoubt {
		c.s.Doubt = nil
	}
	return nil
}

// follow runs an act and goes on. After an act there is no way back over it:
// back from there leads home, so nothing is ever done twice.
func (c *scene) follow(before *session, do Act, to ScreenID) *Refusal {
	from, trail := c.s.Screen, c.s.Trail
	if do != nil {
		refused, err := do(c)
		if err != nil {
			c.err = err
			return nil
		}
		if refused != nil {
			c.s = before
			return refused
		}
		c.acted = true
		c.s.Trail = nil
		c.setLanguage()
	}
	if to == sBefore {
		if len(trail) == 0 {
			c.begin()
			return nil
		}
		c.s.Screen, c.s.Trail = trail[len(trail)-1], trail[:len(trail)-1]
		return nil
	}
	for {
		next := c.m.screens[to]
		if next.When != nil && !next.When(c) {
			to = next.Else
			continue
		}
		if next.Jump == nil {
			break
		}
		onward, ok := next.Jump(c)
		if !ok {
			break
		}
		to = onward
	}
	switch {
	case c.m.screens[to].Root:
		c.s.Trail = nil
	case do != nil:
		c.s.push(sHome)
	default:
		c.s.push(from)
	}
	c.s.Screen = to
	return nil
}

// first is the screen that a dialogue begins with.
func (c *scene) first() ScreenID {
	switch {
	case c.b.Silent():
		return sWho
	case c.b.Known():
		return sHome
	case c.s.Lang == "" && len(c.cat.Languages()) > 1:
		return sTongue
	}
	return sWelcome
}

// nextOf takes the next entry off a dialled path. Where the sides of a field may be
// typed, two numbers are one entry. A choice on offer stays a choice.
func (c *scene) nextOf(path []string) (entry string, rest []string) {
	entry, rest = path[0], path[1:]
	screen := c.screen()
	if screen.Typed == nil || !screen.Typed.Sides || len(rest) == 0 {
		return entry, rest
	}
	if d := answer.Digits(entry); len(d) == 1 &&
		slices.ContainsFunc(c.choices(screen), func(o Choice) bool { return o.Digit == d[0] }) {
		return entry, rest
	}
	if sides, ok := answer.DialledSides(entry, rest[0]); ok {
		return sides, rest[1:]
	}
	return entry, rest
}
