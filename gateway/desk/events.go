package desk

import (
	"errors"
	"fmt"
	"hash/fnv"
	"net/http"
	"strconv"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

func (d *Desk) eventRoutes() []route {
	return []route{{"GET /desk/events", see, nil, d.events}}
}

const (
	// lookEvery is how often a stream looks for what another process has changed. It also sends something, so that no
	// proxy between takes the connection for a dead one: proxies wait for 30 seconds or longer (from memory).
	lookEvery = 20 * time.Second

	// looksAStream is after how many looks a stream ends. The browser opens the next one. All that a stream sends in
	// this time fits into the buffer of its connection, so a browser that does not read holds nothing up, and the
	// stream needs no deadline for writing.
	looksAStream = 30

	// retryAfter is when a browser opens the next stream, in milliseconds.
	retryAfter = 2000
)

// Changed tells the browsers that the list of the morning may have changed. It never blocks.
func (d *Desk) Changed() { d.news.changed() }

// EndStreams ends the streams of events, so that a server can stop. New ones are refused.
func (d *Desk) EndStreams() { d.news.end() }

// events serves server-sent events (HTML Living Standard, section 9.2): a "change" when the list of the morning is not
// as the browser has it. The id of an event stands for the list. The browser says which list it has by the query "seen"
// or, after a break, by the header Last-Event-ID.
func (d *Desk) events(r *request) error {
	wake, stop, ok := d.news.listen()
	if !ok {
		r.w.Header().Set("Retry-After", "30")
		return r.failed(http.StatusServiceUnavailable, "No stream now", "Reload the page to see what has changed.")
	}
	defer stop()
	ticks, stopTicks := d.o.Clock.Every(lookEvery)
	defer stopTicks()
	out := http.NewResponseController(r.w)
	// The server limits how long a request is read and answered. It also ends a request whose time for reading is over.
	for _, endless := range []func(time.Time) error{out.SetReadDeadline, out.SetWriteDeadline} {
		if err := endless(time.Time{}); err != nil && !errors.Is(err, http.ErrNotSupported) {
			return err
		}
	}
	seen := r.Header.Get("Last-Event-ID")
	if seen == "" {
		seen = r.FormValue("seen")
	}
	r.w.Header().Set("Content-Type", "text/event-stream")
	r.done = true
	_, err := fmt.Fprintf(r.w, "retry: %d\n\n", retryAfter)
	for looks := 0; err == nil && looks < looksAStream; {
		var state string
		var over bool
		if state, over, err = r.lookAgain(); err != nil || over {
			break
		}
		if state != seen {
			seen = state
			_, err = fmt.Fprintf(r.w, "id: %s\nevent: change\ndata:\n\n", state)
		}
		if flushed := out.Flush(); err == nil {
			err = flushed
		}
		select {
		case <-r.Context().Done():
			return nil
		case _, more := <-wake:
			if !more {
				return nil
			}
		case <-ticks:
			looks++
			_, _ = fmt.Fprint(r.w, ": still here\n\n") // an error comes again with the next write
		}
	}
	if r.Context().Err() != nil { // the browser has gone
		return nil
	}
	return err
}

// lookAgain returns what stands for the list of the morning. over is true if the session has ended, or the account may
// see other things than before. It does not count as use of the session.
func (r *request) lookAgain() (state string, over bool, err error) {
	now := r.d.now()
	err = r.view(func(tx *store.Tx) error {
		if r.staff.ID != 0 {
			session, found, err := tx.StaffSession(r.d.here(r), now.Unix())
			if err != nil {
				return err
			}
			s, known, err := tx.StaffByID(r.staff.ID)
			if err != nil {
				return err
			}
			over = !found || !known || r.d.unused(session, now) || session.StaffID != s.ID || s.Role != r.staff.Role ||
				fmt.Sprint(s.Places) != fmt.Sprint(r.staff.Places)
		}
		if !over {
			state, err = r.listState(tx, now)
		}
		return err
	})
	return state, over, err
}

// listState returns a word that stands for the list of the morning as it is now: for the plots of its first page with
// their order and reasons, and for the days at the places of the reader.
func (r *request) listState(tx *store.Tx, now time.Time) (string, error) {
	list, err := tx.Morning(r.scope, engine.AllReasons, nil, pageSize)
	if err != nil {
		return "", err
	}
	h := fnv.New64a()
	for _, row := range list {
		_, _ = fmt.Fprintln(h, row.PlotID, row.Later, row.Rank, row.Reasons)
	}
	for _, p := range r.places {
		_, _ = fmt.Fprintln(h, int(engine.DayOf(now, zoneOf(p))))
	}
	return strconv.FormatUint(h.Sum64(), 36), nil
}

// ListState returns a word that stands for the list of the morning, for the attribute data-live of the list.
func (v *view) ListState() (string, error) {
	state, _, err := v.r.lookAgain()
	return state, err
}
