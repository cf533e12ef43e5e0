// Package bench calls a server as many growers at the same time do, and measures how fast it answers. It also has the
// handlers with which benchmarks compare the gateway: a router alone, and the least reads and writes that any service
// with dialogues needs.
//
// It decides no target and prints nothing: the benchmarks do. It measures time and reads the real clock, so only tests
// may import it.
package bench

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/store/manygrowers"
)

// Clock is a running clock. The benchmarks need one, because the store orders some rows by time.
type Clock struct{ showed, began time.Time }

// NewClock returns a clock that shows this instant now.
func NewClock(shows time.Time) Clock { return Clock{showed: shows, began: time.Now()} }

// Now implements clock.Clock.
func (c Clock) Now() time.Time { return c.showed.Add(time.Since(c.began)) }

// Every implements clock.Clock. No tick ever comes.
func (Clock) Every(time.Duration) (ticks <-chan time.Time, stop func()) { return nil, func() {} }

// conns is the number of connections of a closed loop; an open loop has four times as many.
const conns = 64

// Growers says who calls: the first N growers of package manygrowers, by the network local with this token.
type Growers struct {
	N     int
	Token string
}

// Target is a server and the connections that call it.
type Target struct {
	Check  bool        // whether the last screen of each dialogue is checked
	Failed func(error) // called for each call that was not answered well; the default makes the test fail

	tb       testing.TB
	growers  Growers
	addr     string
	list     []*caller    // all connections
	begun    atomic.Int64 // number of dialogues that have begun
	answered atomic.Int64 // number of calls that were answered
}

// Serve starts a server with a handler.
func Serve(tb testing.TB, h http.Handler, g Growers) *Target {
	tb.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	server := gateway.NewServer("", h)
	server.IdleTimeout = time.Hour // connections are idle while another server is measured; 0 would be ReadTimeout
	go server.Serve(l)
	tb.Cleanup(func() { server.Close() })
	return At(tb, l.Addr().String(), g)
}

// At returns the server that listens on an address.
func At(tb testing.TB, addr string, g Growers) *Target {
	return &Target{Failed: func(err error) { tb.Error(err) }, tb: tb, addr: addr, growers: g}
}

// Answered returns the number of calls that were answered.
func (t *Target) Answered() int64 { return t.answered.Load() }

// Took is how long the answers of a loop took.
type Took struct {
	Rate   float64 // answers a second
	sorted []time.Duration
}

// Percentile returns a percentile of the times, in milliseconds. 1 is the longest.
func (t Took) Percentile(share float64) float64 {
	n := len(t.sorted)
	if n == 0 {
		return 0
	}
	return float64(t.sorted[min(n-1, int(share*float64(n)))]) / float64(time.Millisecond)
}

// TookOf returns the times of calls that were made elsewhere.
func TookOf(all []time.Duration) Took {
	slices.Sort(all)
	return Took{sorted: all}
}

func took(all []time.Duration, since time.Time) Took {
	rate := float64(len(all)) / time.Since(since).Seconds()
	slices.Sort(all)
	return Took{rate, all}
}

// ClosedLoop makes each connection send its next call as soon as the last was answered.
func (t *Target) ClosedLoop(d time.Duration) Took {
	list := t.callers(conns)
	times := make([][]time.Duration, len(list))
	runtime.GC()
	var over atomic.Bool
	var wg sync.WaitGroup
	began := time.Now()
	for i, c := range list {
		wg.Go(func() {
			for !over.Load() {
				sent := time.Now()
				c.next()
				times[i] = append(times[i], time.Since(sent))
			}
		})
	}
	time.Sleep(d)
	over.Store(true)
	wg.Wait()
	return took(slices.Concat(times...), began)
}

// OpenLoop sends rate calls a second at random instants, even if earlier calls have not been answered. The time of a
// call is measured from the instant at which it was due.
func (t *Target) OpenLoop(rate float64, d time.Duration) Took {
	return t.OpenLoopUntil(rate, func(ran time.Duration) bool { return ran >= d })
}

// OpenLoopUntil is OpenLoop until over, which gets the time that has passed, is true.
func (t *Target) OpenLoopUntil(rate float64, over func(ran time.Duration) bool) Took {
	list := t.callers(4 * conns)
	free := make(chan *caller, len(list))
	for _, c := range list {
		free <- c
	}
	rnd := rand.New(rand.NewPCG(1, 1))
	var mu sync.Mutex
	var times []time.Duration
	var wg sync.WaitGroup
	began := time.Now()
	for due := time.Duration(0); !over(due); due += time.Duration(rnd.ExpFloat64() / rate * float64(time.Second)) {
		time.Sleep(due - time.Since(began))
		c := <-free
		wg.Go(func() {
			c.next()
			late := time.Since(began) - due
			free <- c
			mu.Lock()
			defer mu.Unlock()
			times = append(times, late)
		})
	}
	wg.Wait()
	return took(times, began)
}

// callers returns n connections for dialogues. They use a minimal HTTP client, which takes little time from the server
// on the same machine.
func (t *Target) callers(n int) []*caller {
	t.tb.Helper()
	for len(t.list) < n {
		c := &caller{all: t}
		c.dial()
		t.tb.Cleanup(func() { c.conn.Close() })
		t.list = append(t.list, c)
	}
	return t.list[:n]
}

func (c *caller) dial() {
	conn, err := net.Dial("tcp", c.all.addr)
	if err != nil {
		panic(err) // in a goroutine of its own a test cannot be ended
	}
	c.conn, c.in = conn, bufio.NewReader(conn)
}

// Talk is what a grower types in one session, and what the last screen says.
type Talk struct {
	Entries []string
	End     string
}

// The mix of dialogues in the benchmarks: of ten, six log a pass, three read the dates of a plot, and one registers a
// plot (an assumption, no source).
var (
	TalkPass = Talk{[]string{"3", "1", "1", "1"}, "Logged"}
	TalkDate = Talk{[]string{"2", "3"}, "Planted"}
	TalkPlot = Talk{[]string{"1", "1", "21/5", "1", "1", "1", "20x30"}, "Saved"}
	talks    = [10]*Talk{
		&TalkPass, &TalkDate, &TalkPass, &TalkDate, &TalkPass, &TalkDate, &TalkPass, &TalkPass, &TalkPlot, &TalkPass,
	}
)

// caller is one connection, which holds one dialogue after another. A dialogue lasts from the dialled code to
// the end of the session.
type caller struct {
	all  *Target
	conn net.Conn
	in   *bufio.Reader

	talk    *Talk // nil between two dialogues
	phone   string
	session int64
	step    int

	out, body, reply []byte // buffers that are reused for every call
}

// Play plays the dialogue of the i-th grower, alone.
func (t *Target) Play(i int) {
	c := t.callers(1)[0]
	for c.begin(t.begun.Add(1), i); c.talk != nil; {
		c.next()
	}
}

func (c *caller) begin(session int64, grower int) {
	c.session, c.step = session, 0
	c.talk, c.phone = talks[grower%len(talks)], "%2B"+manygrowers.Phone(grower).E164()[1:]
}

// next sends one callback and reads its answer.
func (c *caller) next() {
	if c.talk == nil {
		// Multiplication by a prime spreads the growers, so that they do not call in the order of their rows on disk.
		session := c.all.begun.Add(1)
		grower := int(session * 7919 % int64(c.all.growers.N))
		if !manygrowers.Calls(grower) {
			grower--
		}
		c.begin(session, grower)
	}
	event, entry := "entry", ""
	switch n := c.step - 1; {
	case n < 0:
		event = "begin"
	case n < len(c.talk.Entries):
		entry = c.talk.Entries[n]
	default:
		event = "end"
	}
	c.body = fmt.Appendf(c.body[:0], "phone=%s&session=s%d&step=%d&event=%s&entry=%s",
		c.phone, c.session, c.step, event, entry)
	c.out = fmt.Appendf(c.out[:0], "POST /in/local/ussd HTTP/1.1\r\nHost: rowbell\r\nAuthorization: Bearer %s\r\n"+
		"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n%s",
		c.all.growers.Token, len(c.body), c.body)
	if err := c.call(); err != nil {
		c.all.Failed(fmt.Errorf("step %d of %v: %w", c.step, c.talk.Entries, err))
		c.conn.Close()
		c.dial()
		c.talk = nil
		return
	}
	if c.all.Check && c.step == len(c.talk.Entries) && !bytes.Contains(c.reply, []byte(c.talk.End)) {
		c.all.Failed(fmt.Errorf("after %v: %s", c.talk.Entries, c.reply))
	}
	if c.step++; event == "end" {
		c.talk = nil
	}
}

// call sends a request and reads the answer, which must be 200.
func (c *caller) call() error {
	if _, err := c.conn.Write(c.out); err != nil {
		return err
	}
	resp, err := http.ReadResponse(c.in, nil)
	if err != nil {
		return err
	}
	c.reply, err = io.ReadAll(resp.Body)
	c.all.answered.Add(1)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s %s", resp.Status, c.reply)
	}
	return err
}
