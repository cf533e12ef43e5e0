package menu

import (
	"bytes"
	"maps"
	"slices"
)

// What holds at any moment of a dialogue, seen by doing it.

// backAgain goes back from where an entry led: to the screen before, with all
// that was answered kept; after something was done, home.
func (w *walker) backAgain(from spot, way edge, at spot) error {
	screen := w.m.screens[way.to]
	if screen.Root || len(at.s.Trail) == 0 || way.entry == homeKey {
		return nil
	}
	want := at.s.Trail[len(at.s.Trail)-1]
	if want != sHome && want != way.from && way.from != sDoubt {
		w.problem("screen %s after %q on %s would go back to %s", way.to, way.entry, way.from, want)
	}
	state, r, err := w.enter(at.book.clone(), at.state, backKey)
	if err != nil {
		return err
	}
	s, err := decodeSession(state)
	if err != nil {
		return err
	}
	if s.Screen != want {
		w.problem("back from screen %s after %q on %s leads to %s", way.to, way.entry, way.from, s.Screen)
		return nil
	}
	back := edge{way.to, backKey, s.Screen}
	w.seen[back] = true
	w.page(back, r.Text)
	if want == sHome {
		return nil
	}
	for f, v := range at.s.Answers {
		if f != fPage && s.Answers[f] != v {
			w.problem("back from screen %s to %s forgets the answer %s=%s", way.to, s.Screen, f, v)
		}
	}
	for f, v := range from.s.Answers {
		if _, kept := s.Answers[f]; !kept {
			w.problem("screen %s after %q on %s forgets the answer %s=%s", way.to, way.entry, way.from, f, v)
		}
	}
	return nil
}

// otherLanguage asks for the language and takes the same one: the dialogue is
// where it was.
func (w *walker) otherLanguage(_ spot, way edge, at spot) error {
	own := slices.Index(w.m.cat.Languages(), w.lang)
	if way.to == sLanguage || way.to == sTongue {
		return nil
	}
	book := at.book.clone()
	asked, r, err := w.enter(book, at.state, languageKey)
	if err != nil {
		return err
	}
	ask := edge{way.to, languageKey, sLanguage}
	w.seen[ask] = true
	w.page(ask, r.Text)
	state, r, err := w.enter(book, asked, string(digit(own+1)))
	if err != nil {
		return err
	}
	w.onward[sLanguage] = true
	s, err := decodeSession(state)
	if err != nil || s.Screen != at.s.Screen || !maps.Equal(s.Answers, at.s.Answers) {
		w.problem("choosing the language on screen %s does not lead back to it but to\n%s", way.to, r.Text)
	}
	return nil
}

// dropped loses the connection and begins again, on this channel and on the
// other: the same question must come back, and nothing may be done by it.
func (w *walker) dropped(_ spot, way edge, at spot) error {
	if !w.m.unfinished(at.book, at.s) {
		return nil
	}
	for _, ch := range []Channel{USSD, SMS} {
		book := at.book.clone()
		paused, r, err := w.dial(book, ch, at.state)
		if err != nil {
			return err
		}
		if ch == w.ch {
			w.page(edge{way.to, "(dropped)", way.to}, r.Text)
		}
		again, _, err := w.m.Enter(book, ch, paused, goOnKey)
		if err != nil {
			return err
		}
		s, err := decodeSession(again)
		if err != nil || !r.Resumed || s.Screen != at.s.Screen || s.Paused || !maps.Equal(s.Answers, at.s.Answers) {
			w.problem("screen %s is not gone on with by %s after it was dropped", way.to, ch)
			return nil
		}
		if at.s.Page == 0 && !bytes.Equal(again, at.state) {
			w.problem("screen %s is not the same when it is gone on with by %s", way.to, ch)
		}
	}
	return nil
}

// pastReason turns from a reason, under which not all of the screen had room,
// to the screen itself: all of it must be there.
func (w *walker) pastReason(way edge, at spot) error {
	_, r, err := w.enter(at.book.clone(), at.state, moreKey)
	if err != nil {
		return err
	}
	w.page(edge{way.from, way.entry + " " + moreKey, way.to}, r.Text)
	at.s.Refused = false
	if want := w.m.scene(at.book, w.ch, at.s).pages(nil)[0]; r.Text != want {
		w.problem("screen %s, after %q was refused: %s shows\n%s\nand not\n%s", way.to, way.entry, moreKey, r.Text, want)
	}
	return nil
}
