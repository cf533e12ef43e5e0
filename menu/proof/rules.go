package proof

import (
	"bytes"
	"maps"

	"rowbell/menu"
)

// The checks in this file are for keys and events that must work at every moment of a dialogue: back, the list of
// languages, a dropped connection. Each check works on a copy of the records, and compares the screens before and
// after.

// checkBack types the key for back on the screen that an entry led to. The key must lead to the screen before, with all
// answers kept. If the entry changed the records, the key must lead to the home screen instead.
func (w *walker) checkBack(from place, to way, at place) error {
	if at.Root || len(at.Trail) == 0 || to.entry == menu.HomeKey {
		return nil
	}
	want := at.Trail[len(at.Trail)-1]
	if want != menu.ScreenHome && want != to.from && to.from != menu.ScreenDoubt {
		w.problem("screen %s after %q on %s would go back to %s", to.to, to.entry, to.from, want)
	}
	g := at.g.clone()
	state, r, err := w.enter(g, at.state, menu.BackKey)
	if err != nil {
		return err
	}
	v, err := w.m.Inspect(g, w.ch, state)
	if err != nil {
		return err
	}
	if v.Screen != want {
		w.problem("back from screen %s after %q on %s leads to %s", to.to, to.entry, to.from, v.Screen)
		return nil
	}
	back := way{to.to, menu.BackKey, v.Screen}
	w.seen[back] = true
	w.page(back, r.Text)
	if want == menu.ScreenHome {
		return nil
	}
	for f, answer := range at.Answers {
		if f != menu.FieldPage && v.Answers[f] != answer {
			w.problem("back from screen %s to %s forgets the answer %s=%s", to.to, v.Screen, f, answer)
		}
	}
	for f, answer := range from.Answers {
		if _, kept := v.Answers[f]; !kept {
			w.problem("screen %s after %q on %s forgets the answer %s=%s", to.to, to.entry, to.from, f, answer)
		}
	}
	return nil
}

// checkLanguage goes to the list of languages and chooses the same language again. The dialogue must then be at the
// screen where it was before.
func (w *walker) checkLanguage(_ place, to way, at place) error {
	if isLanguageList(to.to) {
		return nil
	}
	g := at.g.clone()
	asked, r, err := w.enter(g, at.state, menu.LanguageKey)
	if err != nil {
		return err
	}
	ask := way{to.to, menu.LanguageKey, menu.ScreenLanguage}
	w.seen[ask] = true
	w.page(ask, r.Text)
	digit, ok := w.digits[g.Place] // the list begins with the languages of the grower's place
	if !ok {
		list, err := w.m.Inspect(g, w.ch, asked)
		if err != nil {
			return err
		}
		digit = w.ownDigit(list)
		w.digits[g.Place] = digit
	}
	state, r, err := w.enter(g, asked, digit)
	if err != nil {
		return err
	}
	w.onward[menu.ScreenLanguage] = true
	v, err := w.m.Inspect(g, w.ch, state)
	if err != nil || v.Screen != at.Screen || !maps.Equal(v.Answers, at.Answers) {
		w.problem("choosing the language on screen %s does not lead back to it but to\n%s", to.to, r.Text)
	}
	return nil
}

// checkDropped drops the connection and dials again, on each channel. The same question must be shown again, and the
// records must not have changed.
func (w *walker) checkDropped(_ place, to way, at place) error {
	if !at.Resumes {
		return nil
	}
	for _, ch := range []menu.Channel{menu.USSD, menu.SMS} {
		g := at.g.clone()
		paused, r, err := w.dial(g, ch, at.state)
		if err != nil {
			return err
		}
		if ch == w.ch {
			w.page(way{to.to, "(dropped)", to.to}, r.Text)
			asked, err := w.m.Inspect(g, ch, paused)
			if err != nil || len(asked.Pages) != 1 {
				w.problem("screen %s: the offer to go on has %d pages:\n%s", to.to, len(asked.Pages), r.Text)
			}
		}
		again, _, err := w.m.Enter(g, ch, paused, menu.GoOnKey)
		if err != nil {
			return err
		}
		v, err := w.m.Inspect(g, ch, again)
		if err != nil || !r.Resumed || v.Screen != at.Screen || v.Paused || !maps.Equal(v.Answers, at.Answers) {
			w.problem("screen %s is not gone on with by %s after it was dropped", to.to, ch)
			return nil
		}
		if at.Page == 0 && !bytes.Equal(again, at.state) {
			w.problem("screen %s is not the same when it is gone on with by %s", to.to, ch)
		}
	}
	return nil
}

// checkPastReason checks a screen after a refused entry, if the screen and the reason of the refusal need more than one
// page. The first page then shows the reason and only a part of the screen. If the grower types the key for more, the
// phone must show the first page of the screen without the reason.
func (w *walker) checkPastReason(to way, at place) error {
	_, r, err := w.enter(at.g.clone(), at.state, menu.MoreKey)
	if err != nil {
		return err
	}
	w.page(way{to.from, to.entry + " " + menu.MoreKey, to.to}, r.Text)
	if want := at.Pages[0]; r.Text != want {
		w.problem("screen %s, after %q was refused: %s shows\n%s\nand not\n%s",
			to.to, to.entry, menu.MoreKey, r.Text, want)
	}
	return nil
}
