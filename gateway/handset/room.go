package handset

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
)

// Room is the practice room: the valley, the phones' line into the service,
// and what each phone's owner has written and read. It is safe for use by
// several browsers at once.
type Room struct {
	valley Valley
	line   *Line
	code   string // what a phone dials when nothing is typed

	mu    sync.Mutex
	extra []Phone            // phones picked up new
	sent  map[string][]wrote // by number
	read  map[string]int     // texts read, by number
	notes map[string]string  // to be told once on the page, by number

	calendar sync.Mutex // one hand on the calendar at a time

	playing chan struct{} // one season of invented growers at a time
}

// wrote is a text that the phone's owner sent, after so many had come in.
type wrote struct {
	after int
	Entry
}

// Entry is a line of a phone's notebook: a text that came or went.
type Entry struct {
	At   time.Time
	Mine bool // sent from this phone
	Kind string
	Body string
	New  bool // came in and was not read yet
}

// Numbers for new phones; all lie in the range kept for fiction.
const (
	firstNew = 447700900101
	lastNew  = 447700900199
)

// MaxSearchDays bounds how far NextText moves the calendar: more than any
// season of lowland rice.
const MaxSearchDays = 200

// NewRoom opens the room. Texts of earlier days count as read.
func NewRoom(ctx context.Context, valley Valley, line *Line, dialCode string) (*Room, error) {
	r := &Room{valley: valley, line: line, code: dialCode, sent: map[string][]wrote{}, read: map[string]int{}, notes: map[string]string{}, playing: make(chan struct{}, 1)}
	phones, err := valley.Phones(ctx)
	if err != nil {
		return nil, err
	}
	y, m, d := valley.Now().Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, valley.Now().Location())
	for _, p := range phones {
		texts, err := valley.Texts(ctx, p.Number)
		if err != nil {
			return nil, err
		}
		r.read[p.Number] = 0
		for i, t := range texts {
			if t.At.Before(today) {
				r.read[p.Number] = i + 1
			}
		}
	}
	return r, nil
}

// Now is the hand-moved instant in the place's own time zone.
func (r *Room) Now() time.Time { return r.valley.Now() }

// DialCode is the code that an empty entry dials.
func (r *Room) DialCode() string { return r.code }

// Phones lists the valley's phones and then the new ones.
func (r *Room) Phones(ctx context.Context) ([]Phone, error) {
	phones, err := r.valley.Phones(ctx)
	if err != nil {
		return nil, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	return append(slices.Clip(phones), r.extra...), nil
}

// Phone finds a phone by its number, with or without the plus, or by its
// place in the list, counted from 1.
func (r *Room) Phone(ctx context.Context, which string) (Phone, bool, error) {
	phones, err := r.Phones(ctx)
	if err != nil {
		return Phone{}, false, err
	}
	for i, p := range phones {
		if p.Number == which || p.Number == "+"+which || fmt.Sprint(i+1) == which {
			return p, true, nil
		}
	}
	return Phone{}, false, nil
}

// NewPhone picks up a phone that nobody in the valley has.
func (r *Room) NewPhone(ctx context.Context) (Phone, error) {
	phones, err := r.Phones(ctx)
	if err != nil {
		return Phone{}, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for n := firstNew + len(r.extra); n <= lastNew; n++ {
		p := Phone{Number: fmt.Sprintf("+%d", n), Name: fmt.Sprintf("New phone %d", n-firstNew+1), About: "Not registered."}
		if !slices.ContainsFunc(phones, func(q Phone) bool { return q.Number == p.Number }) {
			r.extra = append(r.extra, p)
			return p, nil
		}
	}
	return Phone{}, fmt.Errorf("handset: there are no more new phones than these %d", lastNew-firstNew+1)
}

// Screen is what the phone shows now.
func (r *Room) Screen(number string) Screen { return r.line.Screen(number) }

// Call presses the green key: an open dialogue gets the entry, otherwise the
// entry (or the room's code) is dialled.
func (r *Room) Call(ctx context.Context, number, entry string) (Screen, error) {
	entry = strings.TrimSpace(entry)
	if !r.line.Screen(number).Open {
		return r.Dial(ctx, number, entry)
	}
	screen, err := r.line.Enter(ctx, number, entry)
	if err != nil {
		return Screen{}, err
	}
	return screen, r.valley.Settle(ctx)
}

// Dial begins a dialogue with the code, or with the room's own where it is "".
func (r *Room) Dial(ctx context.Context, number, code string) (Screen, error) {
	if code == "" {
		code = r.code
	}
	screen, err := r.line.Dial(ctx, number, code)
	if err != nil {
		return Screen{}, err
	}
	return screen, r.valley.Settle(ctx)
}

// Hang presses the red key.
func (r *Room) Hang(ctx context.Context, number string) error {
	if err := r.line.Hang(ctx, number); err != nil {
		return err
	}
	return r.valley.Settle(ctx)
}

// Send texts the service from the phone and lets the answer come. Whoever
// answers has read what was there.
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
	r.sent[number] = append(r.sent[number], wrote{len(texts), Entry{At: r.valley.Now(), Mine: true, Body: text}})
	r.mu.Unlock()
	return r.valley.Settle(ctx)
}

// Read marks all that came to the phone as read.
func (r *Room) Read(ctx context.Context, number string) error {
	texts, err := r.valley.Texts(ctx, number)
	if err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.read[number] = len(texts)
	return nil
}

// Unread counts the texts that came to the phone and were not read.
func (r *Room) Unread(ctx context.Context, number string) (int, error) {
	texts, err := r.valley.Texts(ctx, number)
	if err != nil {
		return 0, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(texts) - r.read[number], nil
}

// Notebook lists what came to and went from the phone, oldest first.
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

// Plots lists the phone's open plots.
func (r *Room) Plots(ctx context.Context, number string) ([]Plot, error) {
	return r.valley.Plots(ctx, number)
}

// NextDay moves the calendar to the next morning. No call outlives the night.
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

// NextText moves the calendar on until a text comes to the phone, at most
// MaxSearchDays. It returns the days gone by and whether a text came.
func (r *Room) NextText(ctx context.Context, number string) (days int, came bool, err error) {
	r.calendar.Lock()
	defer r.calendar.Unlock()
	before, err := r.valley.Texts(ctx, number)
	if err != nil {
		return 0, false, err
	}
	for days < MaxSearchDays {
		if err := r.nextDay(ctx); err != nil {
			return days, false, err
		}
		days++
		now, err := r.valley.Texts(ctx, number)
		if err != nil {
			return days, false, err
		}
		if len(now) > len(before) {
			return days, true, nil
		}
	}
	return days, false, nil
}

// note keeps a sentence for the phone's next page.
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
