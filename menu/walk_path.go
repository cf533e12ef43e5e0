package menu

import (
	"slices"

	"rowbell/menu/answer"
)

// A dialled path such as *123*1*5# is entered as if its parts were typed one after the other.

// enterPath enters the entries of a dialled path one after the other. enterPath stops if an entry is refused or
// doubted, at a question of another person, which must be read before it is answered, and at the end of the dialogue.
// If an entry is refused on a screen that says what the previous entry saved, enterPath returns nil instead of the
// refusal, so that the reason does not replace that message.
func (c *scene) enterPath(entries []string) *Refusal {
	for n := 0; n <= maxTrail && len(entries) > 0; n++ {
		var e string
		e, entries = c.nextOf(entries)
		saysSaved := c.acted && c.screen().Head != nil
		refused := c.enter(e)
		switch {
		case refused != nil && saysSaved:
			return nil
		case refused != nil, c.err != nil, c.screen().Last, c.s.Screen == ScreenDoubt, c.s.Screen == sQuestion:
			return refused
		}
	}
	return nil
}

// nextOf takes the next entry from a dialled path. On a screen that asks for the sides of a field, two numbers in the
// path (20 and 30) are joined to one entry (20*30), unless the first number is the digit of an offered choice.
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
