// Package menu is what a grower reads and types: the screens, the answers, the
// dialogue's state, the texts that ring and what a one-digit answer means.
//
// A dialogue is a walk over a graph of screens. Each screen is a small value:
// its texts, its choices, what may be typed, where each answer leads. The walk
// is handed the grower's records (Book) and an opaque state; it returns the
// next state and what to show:
//
//	state, reply, err := m.Dial(book, menu.USSD, nil, "*123#")
//	state, reply, err = m.Enter(book, menu.USSD, state, "1")
//
// It knows nothing of HTTP or SQL, keeps no clock (Book.Today tells the day)
// and holds no text: every word comes from the catalogue in menu/text.
package menu
