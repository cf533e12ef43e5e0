package menu

import (
	"bytes"
	"errors"
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/answer"
)

// The code names these screens. The proof or the booklet has a special rule for each exported one.
const (
	sWelcome            ScreenID = "welcome"
	ScreenHome          ScreenID = "home"
	ScreenFirstLanguage ScreenID = "tongue"          // asks for the language at first contact
	ScreenLanguage      ScreenID = "language"        // asks for the language at any other time
	ScreenSaved         ScreenID = "saved"           // confirms a new plot
	ScreenWeeded        ScreenID = "new.weeded"      // asks whether a new plot was weeded already
	sQuestion           ScreenID = "circle.question" // a question of another person of a circle
	sBefore             ScreenID = "(before)"        // stands for the screen that the dialogue came from
)

// These entries are the keys of the menu itself. BackKey, HomeKey and LanguageKey work on every screen, the other keys
// only where a page names them.
const (
	BackKey     = "0"
	HomeKey     = "00"
	LanguageKey = "000"
	MoreKey     = "9" // shows the next page of a screen
	GoOnKey     = "1" // resumes a dialogue after a dropped connection
	restartKey  = "2" // starts again after a dropped connection
)

// scene is everything that the functions of a screen need for one step of a dialogue: the records, the session and the
// language. If an error occurs, the first one is stored in speech.err, and the step returns it.
type scene struct {
	speech
	m    *Menu
	ch   Channel
	s    *session
	send []Note

	grower    GrowerRecords
	consents  ConsentRecords
	numbers   NumberRecords
	places    PlaceRecords
	plots     PlotRecords
	passes    PassRecords
	household HouseholdRecords
	trials    TrialRecords
	circles   CircleRecords

	inCircle *circleNow    // see ring; nil: not read in this step
	asksNow  *[]circle.Ask // see openAsks; nil: not read in this step
	sentNow  *[]circle.Ask

	entering bool // an entry is being read: lists offer the plots that the grower was shown, and write no labels
	acted    bool // the latest entry changed the records
}

func (m *Menu) scene(b Book, ch Channel, s *session) *scene {
	c := &scene{
		speech: speech{cat: m.cat, said: m.said}, m: m, ch: ch, s: s,
		grower: b, consents: b, numbers: b, places: b, plots: b, passes: b, household: b, trials: b,
		circles: b,
	}
	if ch == SMS {
		c.cat = m.texts
	}
	b.Via(ch.String())
	c.setLanguage()
	return c
}

// Dial begins a dialogue. If state holds an unfinished dialogue, the reply asks whether to resume that one. For a
// dialled path such as *123*1*5#, Dial enters 1 and then 5 from the first screen, and stops at the first entry that is
// refused.
func (m *Menu) Dial(b Book, ch Channel, state []byte, dialled string) ([]byte, Reply, error) {
	entries, path := answer.Dialled(dialled, m.opt.DialCode)
	old, err := m.session(state)
	if err == nil && !path && m.unfinished(b, old) {
		c := m.scene(b, ch, old)
		if gone := c.orphaned(); !gone || c.err != nil {
			old.Paused, old.Page = true, 0
			state, r, err := c.reply(nil)
			r.Resumed = err == nil
			return state, r, err
		}
	}
	c := m.scene(b, ch, &session{Lang: b.Language()})
	c.begin()
	if b.Silent() {
		entries = nil // the path was dialled before the question who uses the phone was shown
	}
	if len(entries) == 0 && errors.Is(err, errVersion) {
		return c.reply(&Refusal{Key: "refuse.menu-new"})
	}
	return c.reply(c.enterPath(entries))
}

// Unfinished reports whether a saved dialogue can be resumed, so that a call that dials again is offered to go on.
func (m *Menu) Unfinished(b Book, state []byte) bool {
	s, err := m.session(state)
	return err == nil && m.unfinished(b, s)
}

// unfinished reports whether the dialogue of a decoded session can be resumed.
func (m *Menu) unfinished(b Book, s *session) bool {
	screen := m.screens[s.Screen]
	return !screen.Root && !screen.Rest && !screen.Last && b.Known() && !b.Silent() && len(s.Trail) > 0
}

// Enter reads one entry of a running dialogue. If the state cannot be read, a new dialogue begins. If an older version
// of the menu saved the state, the reply says that the dialogue begins again.
func (m *Menu) Enter(b Book, ch Channel, state []byte, entry string) ([]byte, Reply, error) {
	s, err := m.session(state)
	if movedAway(b, state) {
		c := m.scene(b, ch, &session{})
		c.begin()
		return c.reply(&Refusal{Key: "refuse.moved-number"})
	}
	if err != nil {
		return m.Dial(b, ch, state, "")
	}
	return m.scene(b, ch, s).answerScreen(b, entry)
}

// answerScreen answers the current screen with one entry, unless who uses the phone must be asked first or the plot is
// gone.
func (c *scene) answerScreen(b Book, entry string) ([]byte, Reply, error) {
	if c.unasked() {
		return c.m.Dial(b, c.ch, nil, "")
	}
	if c.orphaned() {
		c.begin()
		return c.reply(&Refusal{Key: "refuse.plot-gone"})
	}
	return c.reply(c.enter(entry))
}

// orphaned reports whether the plot of this dialogue no longer exists: it was closed on another channel, or all the
// grower's data were erased, while the dialogue was open.
func (c *scene) orphaned() bool {
	no := c.s.int(fPlot)
	if no == 0 {
		return false
	}
	return !slices.Contains(c.openPlots(), no)
}

// setLanguage uses the grower's stored language, else the language chosen before consent, else the first offered
// language. If the number was silent for long, the language chosen in this dialogue comes first, because another person
// may use the phone.
func (c *scene) setLanguage() {
	if c.numbers.Silent() {
		c.lang = c.m.language(c.s.Lang, c.grower.Language())
		return
	}
	c.lang = c.m.language(c.grower.Language(), c.s.Lang)
}

func (c *scene) screen() *Screen { return c.m.screens[c.s.Screen] }

func (c *scene) today() engine.Day { return c.grower.Today() }

// saidOn returns the day that "today" means in the entry.
func (c *scene) saidOn() engine.Day { return c.grower.SaidOn() }

// saidOnOf returns the day of a weeding or a look of a plot that the entry reports as of today. It is not before the
// planting and not before the last weeding.
func (c *scene) saidOnOf(s engine.Season) engine.Day {
	on := max(c.saidOn(), s.Plot.Planted)
	if n := len(s.Passes); n > 0 {
		on = max(on, s.Passes[n-1].On)
	}
	return min(on, c.today())
}

// begin starts the dialogue anew: it goes to the first screen and forgets all answers but the language.
func (c *scene) begin() {
	*c.s = session{Lang: c.s.Lang}
	c.s.Screen = c.first()
}

// first is the screen that a dialogue begins with.
func (c *scene) first() ScreenID {
	switch {
	case c.numbers.Silent():
		return sWho
	case c.grower.Known():
		return ScreenHome
	case c.s.Lang == "" && len(c.cat.Languages()) > 1:
		return ScreenFirstLanguage
	}
	return sWelcome
}

// enter answers the screen with one entry. If the entry is refused, the dialogue stays where it was.
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
	case e == HomeKey:
		c.begin()
		return nil
	case e == LanguageKey:
		c.askLanguage()
		return nil
	case e == MoreKey && c.s.Refused: // shows the whole screen, without the reason of the refusal
		return nil
	case e == MoreKey && c.s.Page+1 < len(c.pages(nil)):
		c.s.Page++
		return nil
	case e == BackKey && c.s.Page > 0:
		c.s.Page--
		return nil
	}
	c.s.Page = 0
	switch {
	case c.s.Paused:
		return c.enterPaused(e)
	case e == BackKey:
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
	case c.s.Screen == ScreenDoubt && c.typedAgain(entry):
		return nil
	case screen.Typed == nil, len(choices) > 0 && isDigit(e):
		// On a screen with choices, a single digit is a choice or a typing mistake, never a typed answer.
		return c.enterWords(choices, entry, refused)
	}
	if refused = c.enterTyped(screen.Typed, entry); refused == nil || answer.HasDigit(entry) {
		return refused
	}
	return c.enterWords(choices, entry, refused)
}

// isDigit reports whether an entry is one digit.
func isDigit(e string) bool { return len(e) == 1 && e[0] >= '0' && e[0] <= '9' }

// enterTyped reads a typed answer. If the answer is likely a typing mistake, the menu asks whether it is right.
func (c *scene) enterTyped(typed *Typed, entry string) *Refusal {
	before := c.s.clone()
	d, refused := typed.Read(c, entry)
	switch {
	case refused != nil:
		c.s = before
		return refused
	case d.about != "":
		c.askDoubt(before, d)
		return nil
	}
	return c.follow(before, typed.Do, typed.To)
}

func (c *scene) choose(choice Choice) *Refusal {
	before := c.s.clone()
	if c.s.Screen == ScreenDoubt {
		return c.settleDoubt(choice)
	}
	if stale := c.screen().Stale; stale != nil && choice.Do != nil {
		if asked, why := stale(c); why != nil {
			c.s.Screen, c.s.Trail = asked, c.s.Trail[:max(0, slices.Index(c.s.Trail, asked))]
			return why
		}
	}
	c.s.putAll(choice.Set)
	if choice.Prep != nil {
		if refused := choice.Prep(c); refused != nil {
			c.s = before
			return refused
		}
	}
	if choice.Tell != nil {
		if err := choice.Tell(c); err != nil {
			c.err = err
			return nil
		}
	}
	return c.follow(before, choice.Do, choice.To)
}

// askLanguage asks for the language. After the answer, the dialogue returns to the screen where it was.
func (c *scene) askLanguage() {
	c.s.Page, c.s.Paused = 0, false
	if id := c.s.Screen; id != ScreenLanguage && id != ScreenFirstLanguage {
		c.s.push(id)
		c.s.Screen = ScreenLanguage
	}
}

func (c *scene) enterPaused(e string) *Refusal {
	digit, refused := answer.Choice(e, []byte(GoOnKey+restartKey))
	switch string(digit) {
	case GoOnKey:
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
	if page := c.s.int(FieldPage); to == c.s.Screen && page > 0 {
		c.s.put(FieldPage, strconv.Itoa(page-1)) // back from a later page of a list leads to the page before
	}
	c.s.Screen, c.s.Trail = to, c.s.Trail[:n-1]
	if to != ScreenDoubt {
		c.s.Doubt = nil
	}
	return nil
}

// follow runs the act of an answer, if there is one, and goes to the next screen. After an act, the back key leads to
// the home screen, so that the grower cannot run the act twice. If the act is refused, follow restores the session
// before, a copy made before the answer was read.
func (c *scene) follow(before *session, do Act, to ScreenID) *Refusal {
	from, trail := c.s.Screen, c.s.Trail
	if do != nil {
		refused, err := do(c)
		c.forgetCircle()
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
	to = c.onward(to)
	switch {
	case c.m.screens[to].Root:
		c.s.Trail = nil
	case do != nil:
		c.s.push(ScreenHome)
	default:
		c.s.push(from)
	}
	c.s.Screen = to
	return nil
}

// onward applies When, Else and Jump of a screen, and returns the screen that this grower is shown in the end.
func (c *scene) onward(to ScreenID) ScreenID {
	for {
		next := c.m.screens[to]
		if next.When != nil && !next.When(c) {
			to = next.Else
			continue
		}
		if next.Jump == nil {
			return to
		}
		jump, ok := next.Jump(c)
		if !ok {
			return to
		}
		to = jump
	}
}
