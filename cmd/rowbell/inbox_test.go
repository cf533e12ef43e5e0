package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"sync"
)

// inbox is a network that accepts every pushed text. It drops a text whose idempotency key it has seen.
type inbox struct {
	// hook, if set, is called before a text to a number is accepted. It returns false for a text that the inbox takes,
	// but does not answer as long as the sender waits.
	hook func(to string) bool
	mu   sync.Mutex
	seen map[string]int      // by idempotency key: number of requests
	text map[string][]string // by phone number: the texts that no test has taken yet
	all  int                 // number of all requests
}

func newInbox() *inbox { return &inbox{seen: map[string]int{}, text: map[string][]string{}} }

func (i *inbox) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m struct{ ID, To, Text string }
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	i.mu.Lock()
	i.all++
	if i.seen[m.ID]++; i.seen[m.ID] == 1 {
		i.text[m.To] = append(i.text[m.To], m.Text)
	}
	id, hook := i.all, i.hook
	i.mu.Unlock()
	if hook != nil && !hook(m.To) {
		<-r.Context().Done()
		return
	}
	w.Header().Set("Content-Type", "application/json")
	fmt.Fprintf(w, `{"id":"net-%d"}`, id)
}

// take returns the texts to a phone that came since the last call.
func (i *inbox) take(phone string) []string {
	i.mu.Lock()
	defer i.mu.Unlock()
	t := i.text[phone]
	delete(i.text, phone)
	return t
}

// phones returns the phones that got texts since the last call, sorted, each once.
func (i *inbox) phones() []string {
	i.mu.Lock()
	defer i.mu.Unlock()
	phones := slices.Sorted(maps.Keys(i.text))
	clear(i.text)
	return phones
}

// setHook sets the hook for the texts that come from now on.
func (i *inbox) setHook(hook func(to string) bool) {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.hook = hook
}

// requests returns how many requests had a text with this idempotency key.
func (i *inbox) requests(key string) int {
	i.mu.Lock()
	defer i.mu.Unlock()
	return i.seen[key]
}

// keys returns how many requests came, by the idempotency key of their text.
func (i *inbox) keys() map[string]int {
	i.mu.Lock()
	defer i.mu.Unlock()
	return maps.Clone(i.seen)
}

// count returns how many different texts came.
func (i *inbox) count() int {
	i.mu.Lock()
	defer i.mu.Unlock()
	return len(i.seen)
}
