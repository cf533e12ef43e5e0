// Package handset lets people practise with invented phones, in the browser or on a terminal. It shows the phones'
// texts, the seasons of their plots, and a calendar moved by hand.
//
// The phones call the service as a network does, with a token, session ids and steps. Line makes these calls. Page
// serves browsers and Terminal a person at a terminal; both use one Room. The package reads no clock and no records:
// Valley, which the caller implements, gives it the time and the records.
package handset

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Phone is an invented grower's phone that a person can practise with.
type Phone struct {
	Number string // E.164, with the plus
	Name   string // name of the phone's owner
	About  string // what there is to do today on each plot of the owner; Room sets it
}

// Text is an SMS that a phone received.
type Text struct {
	At   time.Time
	Kind string // the kind of the text, by the name that the outbox has for it
	Body string
}

// Plot is an open plot of a phone's owner.
type Plot struct {
	No     int // number of the plot, 1 to 9
	Season engine.Season
}

// Valley gives access to the invented growers and the calendar.
type Valley interface {
	// Now returns the instant that the calendar shows, in the time zone of the place.
	Now() time.Time
	// NextDay moves the calendar to the next morning. It returns after the service has done all that is due by then.
	NextDay(ctx context.Context) error
	// Settle sends the texts that are due now and does not move the calendar.
	Settle(ctx context.Context) error
	// Phones lists the phones of the growers.
	Phones(ctx context.Context) ([]Phone, error)
	// Texts lists the texts that a phone received, the oldest first.
	Texts(ctx context.Context, number string) ([]Text, error)
	// Plots lists the open plots of a phone's owner, sorted by number.
	Plots(ctx context.Context, number string) ([]Plot, error)
	// Circle returns the circle in which a phone's owner is a member, as the owner sees it; false if there is none.
	Circle(ctx context.Context, number string) (circle.Circle, bool, error)
	// First returns the first day of practice.
	First() engine.Day
	// BeginAgain sets the calendar and the records of all growers back to the first day of practice.
	BeginAgain(ctx context.Context) error
}

// Room is the state of practice: the invented growers, the line to the service, and what was sent and read on each
// phone. It is safe for concurrent use.
type Room struct {
	valley Valley
	line   *Line
	code   string // the short code that is dialled if the person types none

	mu    sync.Mutex
	extra []Phone               // phones that were added by NewPhone
	sent  map[string][]sentText // texts that each phone sent; the key is the phone's number
	read  map[string]int        // how many of its received texts each phone has read; the key is the phone's number
	notes map[string]string     // a sentence to show on the phone's next page; the key is the phone's number

	calendar   sync.Mutex    // locked while the calendar moves
	simulation chan struct{} // has one element while a simulation runs, so that only one runs at a time
}

// sentText is a text that a phone sent.
type sentText struct {
	after int // how many texts the phone had received before it sent this one
	Entry
}

// Entry is a text that a phone received or sent.
type Entry struct {
	At   time.Time
	Mine bool // the phone sent the text; false: the phone received it
	Kind string
	Body string
	New  bool // received and not read yet
}

// firstNew and lastNew are the first and the last number for new phones. They are in the range +447700900000 to
// +447700900999, which is reserved for fiction.
const (
	firstNew int64 = 447700900101
	lastNew  int64 = 447700900199
)

// NewRoom returns the room of these invented growers. Texts that the phones received on earlier days are marked as
// read.
func NewRoom(ctx context.Context, valley Valley, line *Line, dialCode string) (*Room, error) {
	r := &Room{
		valley: valley, line: line, code: dialCode,
		sent: map[string][]sentText{}, read: map[string]int{}, notes: map[string]string{},
		simulation: make(chan struct{}, 1),
	}
	return r, r.readEarlier(ctx)
}

// readEarlier marks the texts of earlier days as read, and those of today as new.
func (r *Room) readEarlier(ctx context.Context) error {
	phones, err := r.valley.Phones(ctx)
	if err != nil {
		return err
	}
	y, m, d := r.valley.Now().Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, r.valley.Now().Location())
	for _, p := range phones {
		texts, err := r.valley.Texts(ctx, p.Number)
		if err != nil {
			return err
		}
		r.read[p.Number] = 0
		for i, t := range texts {
			if t.At.Before(today) {
				r.read[p.Number] = i + 1
			}
		}
	}
	return nil
}

// Now returns the instant that the calendar shows, in the time zone of the place.
func (r *Room) Now() time.Time { return r.valley.Now() }

func (r *Room) today() engine.Day { return r.dayOf(r.Now()) }

// dayOf returns the day of an instant in the time zone of the place.
func (r *Room) dayOf(t time.Time) engine.Day { return engine.DayOf(t, r.Now().Location()) }

// Phones lists the valley's phones first, then the phones that NewPhone added.
func (r *Room) Phones(ctx context.Context) ([]Phone, error) {
	phones, err := r.valley.Phones(ctx)
	if err != nil {
		return nil, err
	}
	r.mu.Lock()
	phones = append(slices.Clip(phones), r.extra...)
	r.mu.Unlock()
	for i, p := range phones {
		plots, err := r.valley.Plots(ctx, p.Number)
		if err != nil {
			return nil, err
		}
		if phones[i].About, err = aboutToday(plots, r.today()); err != nil {
			return nil, err
		}
	}
	return phones, nil
}

// Phone finds a phone by its number, with or without the plus, or by its position in the list of Phones, from 1.
func (r *Room) Phone(ctx context.Context, which string) (p Phone, found bool, err error) {
	phones, err := r.Phones(ctx)
	for i, p := range phones {
		if p.Number == which || p.Number == "+"+which || fmt.Sprint(i+1) == which {
			return p, true, nil
		}
	}
	return Phone{}, false, err
}

// NewPhone adds a phone with a number that no grower has. It returns an error if no such number is left.
func (r *Room) NewPhone(ctx context.Context) (Phone, error) {
	phones, err := r.Phones(ctx)
	if err != nil {
		return Phone{}, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for n := firstNew + int64(len(r.extra)); n <= lastNew; n++ {
		name := fmt.Sprintf("New phone %d", n-firstNew+1)
		p := Phone{Number: fmt.Sprintf("+%d", n), Name: name, About: noPlots}
		if !slices.ContainsFunc(phones, func(q Phone) bool { return q.Number == p.Number }) {
			r.extra = append(r.extra, p)
			return p, nil
		}
	}
	return Phone{}, fmt.Errorf("handset: there are no more new phones than these %d", lastNew-firstNew+1)
}

// Screen returns what the phone's screen shows now.
func (r *Room) Screen(number string) Screen { return r.line.Screen(number) }

// Call presses the green key. If a dialogue is open, Call sends entry as the answer; otherwise it dials entry. A code
// such as *123# is always dialled, because no screen asks for one.
func (r *Room) Call(ctx context.Context, number, entry string) (Screen, error) {
	entry = strings.TrimSpace(entry)
	if !r.line.Screen(number).Open || isCode(entry) {
		return r.Dial(ctx, number, entry)
	}
	screen, err := r.line.Enter(ctx, number, entry)
	if err != nil {
		return Screen{}, err
	}
	return screen, r.valley.Settle(ctx)
}

// isCode reports whether an entry is a code to dial, such as *123#.
func isCode(entry string) bool {
	return len(entry) > 2 && strings.HasPrefix(entry, "*") && strings.HasSuffix(entry, "#")
}

// Dial begins a dialogue with the given code. If code is "", Dial uses the service's own code.
func (r *Room) Dial(ctx context.Context, number, code string) (Screen, error) {
	screen, err := r.line.Dial(ctx, number, cmp.Or(code, r.code))
	if err != nil {
		return Screen{}, err
	}
	return screen, r.valley.Settle(ctx)
}

// Hang presses the red key, which ends the dialogue.
func (r *Room) Hang(ctx context.Context, number string) error {
	if err := r.line.Hang(ctx, number); err != nil {
		return err
	}
	return r.valley.Settle(ctx)
}

// Send sends a text from the phone and waits for the answer. All texts that the phone received before count as read.
func (r *Room) Send(ctx context.Context, number, text string) error {
	texts, err := r.valley.Texts(ctx, number)
	if err != nil {
		return err
	}
	if err := r.line.Text(ctx, number, text); err != nil {
		return err
	}
	r.mu.Lock()
	r.read[number] = len(texts)
	r.sent[number] = append(r.sent[number], sentText{len(texts), Entry{At: r.valley.Now(), Mine: true, Body: text}})
	r.mu.Unlock()
	return r.valley.Settle(ctx)
}

// Read marks all texts that the phone received as read.
func (r *Room) Read(ctx context.Context, number string) error {
	texts, err := r.valley.Texts(ctx, number)
	if err == nil {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.read[number] = len(texts)
	}
	return err
}

// Unread counts the texts that the phone received and has not read.
func (r *Room) Unread(ctx context.Context, number string) (int, error) {
	texts, err := r.valley.Texts(ctx, number)
	r.mu.Lock()
	defer r.mu.Unlock()
	return max(0, len(texts)-r.read[number]), err
}

// Notebook lists the texts that the phone received and sent, the oldest first.
func (r *Room) Notebook(ctx context.Context, number string) ([]Entry, error) {
	texts, err := r.valley.Texts(ctx, number)
	if err != nil {
		return nil, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	sent := r.sent[number]
	book := make([]Entry, 0, len(texts)+len(sent))
	for i, t := range texts {
		for len(sent) > 0 && sent[0].after <= i {
			book, sent = append(book, sent[0].Entry), sent[1:]
		}
		book = append(book, Entry{At: t.At, Kind: t.Kind, Body: t.Body, New: i >= r.read[number]})
	}
	for _, w := range sent {
		book = append(book, w.Entry)
	}
	return book, nil
}

// Plots lists the open plots of the phone's owner.
func (r *Room) Plots(ctx context.Context, number string) ([]Plot, error) {
	return r.valley.Plots(ctx, number)
}

// NextDay ends all open dialogues, as a network would within minutes, and moves the calendar to the next morning.
func (r *Room) NextDay(ctx context.Context) error {
	r.calendar.Lock()
	defer r.calendar.Unlock()
	return r.nextDay(ctx)
}

func (r *Room) nextDay(ctx context.Context) error {
	if err := r.line.HangAll(ctx); err != nil {
		return err
	}
	return r.valley.NextDay(ctx)
}

// BeginAgain sets the calendar and the growers back to the first day of practice. It clears what was sent and read on
// all phones. The phones of NewPhone stay, and are not registered any more.
func (r *Room) BeginAgain(ctx context.Context) error {
	r.calendar.Lock()
	defer r.calendar.Unlock()
	if err := r.valley.BeginAgain(ctx); err != nil {
		return err
	}
	r.line.forget()
	r.mu.Lock()
	defer r.mu.Unlock()
	clear(r.sent)
	clear(r.read)
	clear(r.notes)
	return r.readEarlier(ctx)
}

// note stores a sentence to show on the phone's next page.
func (r *Room) note(number, note string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.notes[number] = note
}

func (r *Room) takeNote(number string) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	note := r.notes[number]
	delete(r.notes, number)
	return note
}
