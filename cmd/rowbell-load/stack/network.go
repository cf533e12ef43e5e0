package stack

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"

	"rowbell/store"
)

// Text is a text that a phone got.
type Text struct {
	Network string
	ID      string // under which rowbell sent it
	To      store.Phone
	Text    string
}

// Network takes the texts of both networks and hands each on once, as a network that recognises repeats does.
type Network struct {
	// Arrived is called for each text, by many goroutines.
	Arrived func(Text)

	url    string
	server *http.Server
	mu     sync.Mutex
	known  map[string]Text // by id
	again  int             // texts that Recognises got once more
	faults []string
}

// listen opens a port of this machine.
func (n *Network) listen() error {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	n.url, n.known = "http://"+l.Addr().String(), map[string]Text{}
	n.server = &http.Server{Handler: n}
	go func() {
		if err := n.server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			n.fault("the network does not listen: %v", err)
		}
	}()
	return nil
}

func (n *Network) close() error { return n.server.Close() }

func (n *Network) fault(format string, a ...any) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.faults = append(n.faults, fmt.Sprintf(format, a...))
}

// Faults returns what must not happen and did, such as a text that came twice.
func (n *Network) Faults() []string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return append([]string(nil), n.faults...)
}

// Again returns how many texts came once more at the network that recognises them.
func (n *Network) Again() int {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.again
}

// Took reports whether the network got a text under this id.
func (n *Network) Took(id string) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	_, took := n.known[id]
	return took
}

func (n *Network) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	t := Text{Network: strings.TrimPrefix(r.URL.Path, "/")}
	if err := json.NewDecoder(r.Body).Decode(&t); err != nil {
		n.fault("a text cannot be read: %v", err)
		w.WriteHeader(http.StatusBadRequest)
		return
	}
	if n.isNew(t) {
		n.Arrived(t)
	}
	w.WriteHeader(http.StatusAccepted)
	_ = json.NewEncoder(w).Encode(map[string]string{"id": "n-" + t.ID})
}

// isNew notes a text, and reports whether it came for the first time.
func (n *Network) isNew(t Text) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	first, known := n.known[t.ID]
	switch {
	case !known:
		n.known[t.ID] = t
	case first != t:
		n.faults = append(n.faults, fmt.Sprintf("the id %s has two texts: %q and %q", t.ID, first.Text, t.Text))
	case t.Network == TakesTwice:
		n.faults = append(n.faults, fmt.Sprintf("%s got the text %s twice: %q", t.Network, t.ID, t.Text))
	default:
		n.again++
	}
	return !known
}
