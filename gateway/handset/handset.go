// Package handset is the practice room: a handset in the browser or on a
// terminal, an inbox, the seasons of the phone's plots, and a calendar that is
// moved by hand.
//
// The handset is a client of the service like any other. What it dials and
// texts goes in at /in/local/ussd and /in/local/sms, with the token, session
// ids and steps that a network would send; the browser only ever talks to the
// room (Page), and the terminal (Terminal) to the same Room. Nothing in here
// reads a clock or a database: the Valley does that for it.
package handset

import (
	"context"
	"time"

	"rowbell/engine"
)

// Phone is one of the phones that can be picked up.
type Phone struct {
	Number string // E.164, with the plus
	Name   string // whose it is
	About  string // one line on the plots, as they were when practice began
}

// Text is one SMS that came to a phone.
type Text struct {
	At   time.Time
	Kind string // what it is about, as the outbox names it
	Body string
}

// Plot is one of a phone's open plots.
type Plot struct {
	No     int // 1..9
	Season engine.Season
}

// Valley is what the practice room may see and move beside the service's
// public doors.
type Valley interface {
	// Now is the hand-moved instant in the place's own time zone.
	Now() time.Time
	// NextDay moves to the next day's morning and does all that is due by then.
	NextDay(ctx context.Context) error
	// Settle sends what is waiting, without moving the calendar.
	Settle(ctx context.Context) error
	// Phones lists the phones of the valley's growers.
	Phones(ctx context.Context) ([]Phone, error)
	// Texts lists what came to a phone, oldest first.
	Texts(ctx context.Context, number string) ([]Text, error)
	// Plots lists a phone's open plots by number.
	Plots(ctx context.Context, number string) ([]Plot, error)
}
