package desk

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// stream is a stream of events over a real connection.
type stream struct {
	t      *testing.T
	body   *bufio.Scanner
	status int
	stop   context.CancelFunc
}

// listen opens a stream as the browser b. The server has time limits that are over at once, as the real one has some
// seconds later.
func (o *office) listen(b *browser, path string, header ...string) *stream {
	o.t.Helper()
	t := o.t.(*testing.T)
	server := httptest.NewUnstartedServer(o.d)
	server.Config.ReadTimeout, server.Config.WriteTimeout = time.Second, time.Second
	server.Start()
	ctx, cancel := context.WithCancel(context.Background())
	r := must(http.NewRequestWithContext(ctx, http.MethodGet, server.URL+path, nil))
	for _, c := range b.cookies {
		r.AddCookie(c)
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	answer := must(http.DefaultTransport.RoundTrip(r))
	t.Cleanup(func() {
		cancel()
		_ = answer.Body.Close()
		server.Close()
	})
	return &stream{t, bufio.NewScanner(answer.Body), answer.StatusCode, cancel}
}

// next returns the next event: its id. ended is true if the stream has ended.
func (s *stream) next() (id string, ended bool) {
	s.t.Helper()
	for s.body.Scan() {
		line := s.body.Text()
		if v, ok := strings.CutPrefix(line, "id: "); ok {
			id = v
		}
		if line == "event: change" && id == "" {
			s.t.Error("an event without an id")
		}
		if line == "" && id != "" {
			return id, false
		}
	}
	return "", true
}

// paddy registers a grower of a place with a plot whose weeds are ready to be weeded, and brings the list of the
// morning up to date.
func (o *office) paddy(n int, place string) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(fmt.Sprint("+44", 7700900700+int64(n))), nine.Unix())
		if err != nil {
			return err
		}
		if err := errors.Join(l.Consent("en", "1", "ussd"), l.SetPlace(place)); err != nil {
			return err
		}
		_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, AreaM2: 800, Planted: l.Today() - 24,
			RowSpacingCM: 25, Flood: engine.FloodKept}, engine.Tool{WidthCM: 15})
		return errors.Join(err, tx.AttendSoon([]int64{l.GrowerID()}))
	})
	if _, refused, err := o.s.KeepAttention(o.t.Context(), o.clock.Now().Unix()); err != nil || refused > 0 {
		o.t.Fatalf("%d plots refused, %v", refused, err)
	}
}

// A stream tells the browser what it has missed, and then each change of the list that it may see.
func TestEvents(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	s := o.listen(b, "/desk/events?seen=old")
	first, _ := s.next()
	if s.status != http.StatusOK || first == "" {
		t.Fatalf("status %d, first event %q", s.status, first)
	}
	o.paddy(1, "south")
	o.d.Changed() // of another place: no event
	o.paddy(2, "north")
	o.d.Changed()
	second, ended := s.next()
	if ended || second == first {
		t.Errorf("after a change: %q, ended %t", second, ended)
	}
	o.paddy(3, "north")
	o.clock.Advance(lookEvery) // another process has changed the list
	third, ended := s.next()
	if ended || third == second {
		t.Errorf("after a change by another process: %q, ended %t", third, ended)
	}
	again := o.listen(b, "/desk/events?seen=old", "Last-Event-ID", second)
	if id, _ := again.next(); id != third {
		t.Errorf("after a break the browser got %q, not %q", id, third)
	}
	o.d.EndStreams()
	for _, x := range []*stream{s, again} {
		if _, ended := x.next(); !ended {
			t.Error("the stream did not end")
		}
	}
	b.get("/desk/events").has(t, http.StatusServiceUnavailable, "Reload the page")
}

// Who has the list as it is gets no event.
func TestNoEvent(t *testing.T) {
	o := newOffice(t)
	o.paddy(1, "north")
	b := o.as("field")
	first, _ := o.listen(b, "/desk/events?seen=old").next()
	s := o.listen(b, "/desk/events?seen="+first)
	o.as("op").post("/desk/staff", "name", "lina", "role", "operator") // a change, and not of the list
	o.d.EndStreams()
	if id, ended := s.next(); !ended {
		t.Errorf("an event %q, and the browser had %q", id, first)
	}
}

// A stream ends with its session, and is no use of it. Nobody gets one without logging in.
func TestEventsEndWithTheSession(t *testing.T) {
	o := newOffice(t)
	for what, end := range map[string]func(*browser){
		"left alone": func(*browser) { o.clock.Advance(idleTimeout + time.Second) },
		"logged out": func(b *browser) { b.post("/desk/logout"); o.d.Changed() },
		"another role": func(*browser) {
			o.tx(func(tx *store.Tx) error {
				s, _, err := tx.StaffByName("field")
				s.Role = store.RoleViewer
				if err != nil {
					return err
				}
				return tx.SetStaff(s)
			})
			o.d.Changed()
		},
	} {
		b := o.as("field")
		s := o.listen(b, "/desk/events?seen=old")
		s.next()
		end(b)
		if _, ended := s.next(); !ended {
			t.Errorf("%s: the stream goes on", what)
		}
	}
	o.browser().get("/desk/events").has(t, 200, "Password")
}

// A page that renews itself does not keep a session alive.
func TestRenewingIsNoUse(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	renewing := &browser{t: t, cookies: b.cookies, h: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Header.Set(byItself, "1")
		o.d.ServeHTTP(w, r)
	})}
	for range 4 {
		renewing.get("/desk/me").has(t, 200, "This browser")
		o.clock.Advance(idleTimeout / 4)
	}
	o.clock.Advance(time.Second)
	b.get("/desk/me").has(t, 200, "Password")
}

// The number of streams is bounded.
func TestTooManyStreams(t *testing.T) {
	var n news
	var stops []func()
	for range maxStreams {
		_, stop, ok := n.listen()
		if !ok {
			t.Fatal("refused too early")
		}
		stops = append(stops, stop)
	}
	if _, _, ok := n.listen(); ok {
		t.Error("one too many")
	}
	stops[0]()
	if _, _, ok := n.listen(); !ok {
		t.Error("no room after one has stopped")
	}
	n.end()
	n.end()
	n.changed()
}
