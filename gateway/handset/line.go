package handset

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
)

// Door carries one request to the service and its answer back. *http.Client
// is one.
type Door interface {
	Do(*http.Request) (*http.Response, error)
}

// Line is the phones' way into the service: it keeps each phone's call and
// speaks the default profile.
type Line struct {
	door  Door
	base  string // scheme and host, no slash at the end
	token string
	run   string // tells this run's session and message ids from an earlier one's

	mu    sync.Mutex
	calls map[string]call
	ids   int
}

// call is a USSD dialogue in progress or just over.
type call struct {
	session string
	step    int
	screen  Screen
}

// Screen is what a phone shows of its dialogue.
type Screen struct {
	Text string
	Open bool // the network holds the session and waits for an entry
}

// NewLine returns a line to the service at base ("http://127.0.0.1:8080").
// run must differ from one run of practice to the next on the same records.
func NewLine(door Door, base, token, run string) *Line {
	return &Line{door: door, base: strings.TrimSuffix(base, "/"), token: token, run: run, calls: map[string]call{}}
}

// Screen is what the phone shows now.
func (l *Line) Screen(phone string) Screen {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.calls[phone].screen
}

// Dial begins a dialogue; one in progress is hung up first.
func (l *Line) Dial(ctx context.Context, phone, code string) (Screen, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.hang(ctx, phone); err != nil {
		return Screen{}, err
	}
	c := call{session: l.id("call")}
	return l.step(ctx, phone, c, ussd{Phone: phone, Session: c.session, Dialled: code, Event: "begin"})
}

// Enter answers the screen. With no dialogue open it does nothing.
func (l *Line) Enter(ctx context.Context, phone, entry string) (Screen, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	c := l.calls[phone]
	if !c.screen.Open {
		return c.screen, nil
	}
	c.step++
	return l.step(ctx, phone, c, ussd{Phone: phone, Session: c.session, Entry: entry, Event: "entry", Step: c.step})
}

// Hang ends the phone's dialogue and clears its screen.
func (l *Line) Hang(ctx context.Context, phone string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	err := l.hang(ctx, phone)
	delete(l.calls, phone)
	return err
}

// HangAll ends every dialogue, as a network does long before the next day.
func (l *Line) HangAll(ctx context.Context) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	for phone := range l.calls {
		if err := l.hang(ctx, phone); err != nil {
			return err
		}
		delete(l.calls, phone)
	}
	return nil
}

// Text sends an SMS from the phone.
func (l *Line) Text(ctx context.Context, phone, text string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	_, err := l.post(ctx, "/in/local/sms", sms{ID: l.id("text"), Phone: phone, To: "practice", Text: text})
	return err
}

// ussd and sms are the default profile's bodies.
type ussd struct {
	Phone   string `json:"phone"`
	Session string `json:"session"`
	Dialled string `json:"dialled,omitempty"`
	Entry   string `json:"entry"`
	Event   string `json:"event"`
	Step    int    `json:"step"`
}

type sms struct {
	ID    string `json:"id"`
	Phone string `json:"phone"`
	To    string `json:"to"`
	Text  string `json:"text"`
}

func (l *Line) id(what string) string {
	l.ids++
	return fmt.Sprintf("%s-%s-%d", what, l.run, l.ids)
}

// step sends one step of a dialogue and keeps what came back.
func (l *Line) step(ctx context.Context, phone string, c call, body ussd) (Screen, error) {
	answer, err := l.post(ctx, "/in/local/ussd", body)
	if err != nil {
		return Screen{}, err
	}
	var reply struct {
		Text string `json:"text"`
		More bool   `json:"more"`
	}
	if err := json.Unmarshal(answer, &reply); err != nil {
		return Screen{}, fmt.Errorf("handset: the service's answer is not a screen: %w", err)
	}
	c.screen = Screen{Text: reply.Text, Open: reply.More}
	l.calls[phone] = c
	return c.screen, nil
}

// hang tells the service that the phone left an open dialogue.
func (l *Line) hang(ctx context.Context, phone string) error {
	c := l.calls[phone]
	if !c.screen.Open {
		return nil
	}
	c.screen.Open = false
	l.calls[phone] = c
	_, err := l.post(ctx, "/in/local/ussd", ussd{Phone: phone, Session: c.session, Event: "end", Step: c.step + 1})
	return err
}

func (l *Line) post(ctx context.Context, path string, body any) ([]byte, error) {
	b, err := json.Marshal(body)
	if err != nil {
		return nil, err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, l.base+path, bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Authorization", "Bearer "+l.token)
	resp, err := l.door.Do(req)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(io.LimitReader(resp.Body, 1<<16))
	if err != nil {
		return nil, err
	}
	if resp.StatusCode/100 != 2 {
		return nil, fmt.Errorf("handset: the service answered %s to %s: %.200s", resp.Status, path, answer)
	}
	return answer, nil
}
