package handset

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
)

// Doer sends an HTTP request to the service and returns the response; *http.Client is a Doer.
type Doer interface {
	Do(*http.Request) (*http.Response, error)
}

// Line sends the phones' dialogues and texts to the service in the project's own wire format, and remembers the latest
// screen of each phone's dialogue. It is safe for concurrent use.
type Line struct {
	client Doer
	base   string // scheme and host, without a slash at the end
	token  string
	run    string // part of all session and message ids, because the service drops an id of an earlier run as a repeat

	mu    sync.Mutex
	calls map[string]call
	ids   int
}

// call is the latest USSD dialogue of a phone, which may be open or ended.
type call struct {
	session string
	step    int
	screen  Screen
}

// Screen is the latest screen of a phone's dialogue.
type Screen struct {
	Text string
	Open bool // the session is open and waits for the grower's entry
}

// NewLine returns a line to the service at the address base, such as "http://127.0.0.1:8080". run is a part of all
// session and message ids. It must differ each time practice starts on the same records, because the service drops a
// call with an id of an earlier run as a repeat.
func NewLine(client Doer, base, token, run string) *Line {
	return &Line{client: client, base: strings.TrimSuffix(base, "/"), token: token, run: run, calls: map[string]call{}}
}

// Screen returns the latest screen of the phone's dialogue. After Hang the screen is empty.
func (l *Line) Screen(phone string) Screen {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.calls[phone].screen
}

// Dial begins a dialogue. If the phone has an open dialogue, Dial first ends that dialogue.
func (l *Line) Dial(ctx context.Context, phone, code string) (Screen, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.hang(ctx, phone); err != nil {
		return Screen{}, err
	}
	c := call{session: l.id("call")}
	return l.step(ctx, phone, c, ussd{Phone: phone, Session: c.session, Dialled: code, Event: "begin"})
}

// Enter sends the phone's entry as the answer to its screen. Enter does nothing if the phone has no open dialogue.
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

// HangAll ends all dialogues and clears all screens.
func (l *Line) HangAll(ctx context.Context) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	var err error
	for phone := range l.calls {
		err = errors.Join(err, l.hang(ctx, phone))
	}
	clear(l.calls)
	return err
}

// forget clears all screens, for a service that began anew and knows no open dialogue.
func (l *Line) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	clear(l.calls)
}

// Text sends an SMS from the phone.
func (l *Line) Text(ctx context.Context, phone, text string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	_, err := l.post(ctx, "/in/local/sms", sms{ID: l.id("text"), Phone: phone, To: "practice", Text: text})
	return err
}

// ussd and sms are the bodies of calls in the project's own wire format.
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

// step sends one step of a dialogue and stores the screen with which the service answers.
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

// hang tells the service that the phone's dialogue has ended, if the dialogue is open.
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
	resp, err := l.client.Do(req)
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
