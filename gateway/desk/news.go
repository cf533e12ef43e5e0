package desk

import "sync"

// maxStreams is how many streams of events a desk has open at once. Each is a connection that stays open.
const maxStreams = 500

// news wakes the streams of events when something has changed.
type news struct {
	mu    sync.Mutex
	wakes map[chan struct{}]struct{}
	ended bool
}

// listen returns a channel that gets an element after each change, or is closed when the streams end. ok is false if
// there are too many streams, or they have ended. stop must be called.
func (n *news) listen() (wake <-chan struct{}, stop func(), ok bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.ended || len(n.wakes) >= maxStreams {
		return nil, nil, false
	}
	c := make(chan struct{}, 1)
	if n.wakes == nil {
		n.wakes = map[chan struct{}]struct{}{}
	}
	n.wakes[c] = struct{}{}
	return c, func() {
		n.mu.Lock()
		defer n.mu.Unlock()
		delete(n.wakes, c)
	}, true
}

func (n *news) changed() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.ended {
		return
	}
	for c := range n.wakes {
		select {
		case c <- struct{}{}:
		default: // it has not looked since the last change
		}
	}
}

func (n *news) end() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.ended {
		return
	}
	n.ended = true
	for c := range n.wakes {
		close(c)
	}
}
