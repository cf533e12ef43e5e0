package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/store"
)

// TestKilledAtRandomMoments plays growers who register a plot, log a pass and
// send a text, while the service is killed with SIGKILL at 50 random moments.
// What was not acknowledged is repeated, as a network would; what was
// acknowledged must be there exactly once and be answered the same again.
//
// A killed process leaves the page cache, so this proves the transactions, not
// the disk; that every commit is synced is asserted in the store's tests.
func TestKilledAtRandomMoments(t *testing.T) {
	kills := 50
	if testing.Short() {
		kills = 5
	}
	at := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	p := startProcess(t, at)
	n := &network{t: t, token: p.token, http: &http.Client{Timeout: 30 * time.Second}, acks: make(chan struct{}, 1024), up: make(chan struct{})}
	n.set(p.base)
	var growers sync.WaitGroup
	var done atomic.Bool
	const lines = 4
	finished := make([][]string, lines)
	for line := range lines {
		growers.Go(func() {
			for i := 0; i < 200 && !done.Load(); i++ {
				phone := fmt.Sprintf("+44%d", 7700900000+line*200+i)
				if !n.grower(phone) {
					return
				}
				finished[line] = append(finished[line], phone)
			}
		})
	}
	random := rand.New(rand.NewPCG(11, 25))
	for range kills {
		for range 1 + random.IntN(25) {
			<-n.acks
		}
		p.kill()
		p.start(at)
		n.set(p.base)
	}
	done.Store(true)
	go func() {
		for range n.acks { // the growers finish what they began
		}
	}()
	growers.Wait()
	close(n.acks)
	p.stop()

	s, err := store.Open(context.Background(), filepath.Join(p.dir, "rowbell.db"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.IntegrityCheck(context.Background()); err != nil {
		t.Error(err)
	}
	checked := 0
	err = s.InTx(context.Background(), func(tx *store.Tx) error {
		for _, phones := range finished {
			for _, phone := range phones {
				l, err := tx.Ledger(store.Phone(phone), at.Unix())
				if err != nil {
					return err
				}
				plots, err := l.Plots()
				if err != nil {
					return err
				}
				if len(plots) != 1 {
					t.Errorf("%s has %d plots", store.Phone(phone), len(plots))
					continue
				}
				season, err := l.Season(1)
				if err != nil {
					return err
				}
				if len(season.Passes) != 1 {
					t.Errorf("%s has %d passes", store.Phone(phone), len(season.Passes))
				}
				texts, err := tx.Inbox(store.Phone(phone), 0)
				if err != nil {
					return err
				}
				if len(texts) != 2 { // welcome, and the answer to the text
					t.Errorf("%s has %d texts", store.Phone(phone), len(texts))
				}
				checked++
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if checked < kills/2 {
		t.Errorf("only %d growers were checked", checked)
	}
	t.Logf("%d growers, %d kills, %d calls repeated", checked, kills, n.repeated.Load())
}

// network is a network that repeats a call until it is acknowledged.
type network struct {
	t        *testing.T
	token    string
	http     *http.Client
	acks     chan struct{} // one for each acknowledged call
	repeated atomic.Int64

	mu   sync.Mutex
	base string
	up   chan struct{} // closed when base changes
}

func (n *network) set(base string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.base = base
	close(n.up)
	n.up = make(chan struct{})
}

func (n *network) now() (string, <-chan struct{}) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.base, n.up
}

// call posts until the service answers 2xx, then once more: the same answer
// must come.
func (n *network) call(path string, body map[string]any) bool {
	var first []byte
	for acks := 0; acks < 2; {
		base, changed := n.now()
		answer, status, err := n.post(base+path, body)
		if err != nil {
			n.repeated.Add(1)
			<-changed
			continue
		}
		if status/100 != 2 {
			n.t.Errorf("%s: %d %s", path, status, answer)
			return false
		}
		if acks == 0 {
			first = answer
			n.acks <- struct{}{}
		} else if !bytes.Equal(first, answer) {
			n.t.Errorf("%s: the repeat was answered %s, not %s", path, answer, first)
			return false
		}
		acks++
	}
	return true
}

func (n *network) post(url string, body map[string]any) ([]byte, int, error) {
	b, err := json.Marshal(body)
	if err != nil {
		return nil, 0, err
	}
	req, err := http.NewRequest(http.MethodPost, url, bytes.NewReader(b))
	if err != nil {
		return nil, 0, err
	}
	req.Header.Set("Authorization", "Bearer "+n.token)
	req.Header.Set("Content-Type", "application/json")
	resp, err := n.http.Do(req)
	if err != nil {
		return nil, 0, err
	}
	defer resp.Body.Close()
	b, err = io.ReadAll(resp.Body)
	return b, resp.StatusCode, err
}

// grower plays one: consent, a plot, a pass, a text.
func (n *network) grower(phone string) bool {
	steps := []string{"", "1", "1", "1", "10/11", "1", "1", "1", "600", "00", "3", "1", "1", "1"}
	for step, entry := range steps {
		call := map[string]any{"phone": phone, "session": "s" + phone, "step": step, "event": "entry", "entry": entry}
		if step == 0 {
			call["event"], call["dialled"] = "begin", "*123#"
		}
		if !n.call("/in/local/ussd", call) {
			return false
		}
	}
	return n.call("/in/local/sms", map[string]any{"id": "m" + phone, "phone": phone, "to": "12345", "text": "help"})
}
