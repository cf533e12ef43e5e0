package gateway_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

const (
	benchGrowers = 20_000
	benchConns   = 64
	benchRounds  = 7
	benchRound   = time.Second
)

// BenchmarkUSSD measures a whole USSD step over HTTP on 64 connections, from the route to a durable commit and the log
// line. It measures the gateway and the handlers of bench_bare_test.go in turn on one machine, because the ratios of
// the figures are stable and the figures are not.
//
//	go test ./gateway -run xxx -bench USSD -benchtime 1x
func BenchmarkUSSD(b *testing.B) {
	db := seeded(b)
	ours := copied(b, db)
	var statements atomic.Int64
	servers := map[string]*bench{
		"ours": serveBench(b, ourHandler(b, ours, &statements)), "chi": serveBench(b, bareChi()),
		"group":  serveBench(b, bareRecords(b, copied(b, db), 512)),
		"one-tx": serveBench(b, bareRecords(b, copied(b, db), 1)),
	}
	servers["ours"].check = true
	names := slices.Sorted(maps.Keys(servers))
	figures := map[string][]float64{} // one value for each round
	frames := countFrames(b, ours)
	for b.Loop() {
		for _, name := range names {
			servers[name].closedLoop(b, benchRound/2) // warms the server up, so its result is not used
		}
		for range benchRounds {
			rates, p99s := map[string]float64{}, map[string]float64{}
			for _, name := range names {
				rates[name], p99s[name] = servers[name].closedLoop(b, benchRound)
				figures[name+"-req/s"] = append(figures[name+"-req/s"], rates[name])
			}
			for _, name := range []string{"chi", "group", "one-tx"} {
				figures["ours/"+name] = append(figures["ours/"+name], rates["ours"]/rates[name])
			}
			figures["ours-p99-ms"] = append(figures["ours-p99-ms"], p99s["ours"])
			figures["p99-ours/chi"] = append(figures["p99-ours/chi"], p99s["ours"]/p99s["chi"])
		}
	}
	steps := servers["ours"].answered.Load()
	figures["ours-log-KB/step"] = []float64{float64(frames()) * (4096 + 24) / 1000 / float64(steps)}
	figures["ours-statements/step"] = []float64{float64(statements.Load()) / float64(steps)}
	b.ReportMetric(0, "ns/op")
	for name, values := range figures {
		slices.Sort(values)
		median := values[len(values)/2]
		b.ReportMetric(median, name)
		b.Logf("%-13s %9.2f [%.2f-%.2f]", name, median, values[0], values[len(values)-1])
	}
}

// BenchmarkUSSDArrivals sends a thousand steps a second at random instants, whether or not earlier steps were
// answered. The time of a step is measured from the instant at which the step was due.
//
//	go test ./gateway -run xxx -bench Arrivals -benchtime 1x
func BenchmarkUSSDArrivals(b *testing.B) {
	db := seeded(b)
	ours := ourHandler(b, copied(b, db), new(atomic.Int64))
	for name, h := range map[string]http.Handler{"chi": bareChi(), "ours": ours} {
		b.Run(name, func(b *testing.B) {
			s := serveBench(b, h)
			for b.Loop() {
				s.openLoop(b, 1000, 5*time.Second)
			}
		})
	}
}

// seeded creates a database of growers with one plot each. Half of the growers have logged a pass, and a third
// have logged a sighting.
func seeded(b *testing.B) (path string) {
	b.Helper()
	path = filepath.Join(b.TempDir(), "seeded.db")
	s := must(store.Open(context.Background(), path, store.Options{}))
	now := morning.Add(-24 * time.Hour).Unix()
	for from := 0; from < benchGrowers; from += 2000 {
		err := s.InTx(context.Background(), func(tx *store.Tx) error {
			for i := from; i < from+2000; i++ {
				if err := seedOne(tx, i, now); err != nil {
					return err
				}
			}
			return nil
		})
		ok(b, err)
	}
	ok(b, s.Close())
	return path
}

func seedOne(tx *store.Tx, i int, now int64) error {
	l, err := tx.Ledger(benchPhone(i), now)
	if err != nil {
		return err
	}
	if err = register(l, "", engine.Day(5+i%40)); err == nil && i%2 == 0 {
		err = l.LogPass(1, engine.Pass{On: l.Today() - 3, With: engine.ByTool, Left: engine.Few})
	}
	if err == nil && i%3 == 0 {
		err = l.See(1, engine.Sighting{On: l.Today() - 1, Leaves: engine.TwoThree, Amount: engine.Some})
	}
	return err
}

// benchPhone returns the phone number of the i-th grower. There are more growers than the thousand numbers that are
// reserved for fiction, so these numbers have two digits too many to belong to anybody.
func benchPhone(i int) store.Phone { return store.Phone(fmt.Sprintf("+44%d%06d", 7700900, i)) }

func copied(b *testing.B, path string) string {
	b.Helper()
	to := filepath.Join(b.TempDir(), "rowbell.db")
	ok(b, os.WriteFile(to, must(os.ReadFile(path)), 0o600))
	return to
}

// ourHandler returns a gateway that uses the database at path. It counts the statements of its transactions.
func ourHandler(b *testing.B, path string, statements *atomic.Int64) http.Handler {
	b.Helper()
	s := must(store.Open(context.Background(), path, store.Options{OnStatement: func(string) { statements.Add(1) }}))
	b.Cleanup(func() { s.Close() })
	network := profile.Default("local")
	network.Token = profile.HashToken(token)
	return must(gateway.New(gateway.Options{
		Store: s, Menu: realMenu(b, menu.Options{}), Clock: since(time.Now()), Log: zerolog.New(io.Discard),
		Networks: []profile.Profile{network}, Health: gateway.Health{QuietHour: 20}}))
}

// since is a running clock: its value is the real time at which the clock started and showed morning. The benchmarks
// need a clock that runs, because the store orders some rows by time.
type since time.Time

func (s since) Now() time.Time { return morning.Add(time.Since(time.Time(s))) }

func (since) Every(time.Duration) (<-chan time.Time, func()) { return nil, func() {} }

// bench is a server and the connections that call it.
type bench struct {
	b     *testing.B
	addr  string
	check bool // whether the last screen of each dialogue is checked
	list  []*caller
	begun atomic.Int64 // number of dialogues that have begun

	answered atomic.Int64 // number of calls that were answered
}

// countFrames counts the pages that are written to the write-ahead log of a database, until the function that it
// returns is called. It looks at the number of frames in the header of the log's index, which begins again at 0 when
// the log is used again (sqlite.org/walformat.html, section 2.1).
func countFrames(b *testing.B, path string) (stop func() int64) {
	b.Helper()
	index := must(os.Open(path + "-shm"))
	end, total := make(chan struct{}), make(chan int64)
	go func() {
		defer index.Close()
		var n, last int64
		var header [4]byte
		for tick := time.NewTicker(time.Millisecond); ; {
			if _, err := index.ReadAt(header[:], 16); err == nil {
				now := int64(binary.NativeEndian.Uint32(header[:]))
				n += now
				if now >= last {
					n -= last
				}
				last = now
			}
			select {
			case <-end:
				tick.Stop()
				total <- n
				return
			case <-tick.C:
			}
		}
	}()
	return func() int64 { close(end); return <-total }
}

func serveBench(b *testing.B, h http.Handler) *bench {
	b.Helper()
	l := must(net.Listen("tcp", "127.0.0.1:0"))
	server := gateway.NewServer("", h)
	server.IdleTimeout = 0 // no timeout, because connections are idle while another server is measured
	go server.Serve(l)
	b.Cleanup(func() { server.Close() })
	return &bench{b: b, addr: l.Addr().String()}
}

// closedLoop makes each connection send its next call as soon as the last was answered. It returns the number
// of requests per second and the 99th percentile of the response times, in milliseconds.
func (s *bench) closedLoop(b *testing.B, d time.Duration) (rate, p99 float64) {
	b.Helper()
	list := s.callers(benchConns)
	took := make([][]time.Duration, len(list))
	runtime.GC()
	var over atomic.Bool
	var wg sync.WaitGroup
	began := time.Now()
	for i, c := range list {
		wg.Go(func() {
			for !over.Load() {
				sent := time.Now()
				c.next()
				took[i] = append(took[i], time.Since(sent))
			}
		})
	}
	time.Sleep(d)
	over.Store(true)
	wg.Wait()
	all := slices.Concat(took...)
	return float64(len(all)) / time.Since(began).Seconds(), percentile(all, 0.99)
}

// openLoop sends rate calls a second at random instants, even if earlier calls have not been answered. It reports the
// response times as metrics of b.
func (s *bench) openLoop(b *testing.B, rate float64, d time.Duration) {
	b.Helper()
	list := s.callers(4 * benchConns)
	free := make(chan *caller, len(list))
	for _, c := range list {
		free <- c
	}
	rnd := rand.New(rand.NewPCG(1, 1))
	var mu sync.Mutex
	var took []time.Duration
	var wg sync.WaitGroup
	began := time.Now()
	for due := time.Duration(0); due < d; due += time.Duration(rnd.ExpFloat64() / rate * float64(time.Second)) {
		time.Sleep(due - time.Since(began))
		c := <-free
		wg.Go(func() {
			c.next()
			t := time.Since(began) - due
			free <- c
			mu.Lock()
			defer mu.Unlock()
			took = append(took, t)
		})
	}
	wg.Wait()
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(len(took))/time.Since(began).Seconds(), "req/s")
	b.ReportMetric(percentile(took, 0.5), "p50-ms")
	b.ReportMetric(percentile(took, 0.99), "p99-ms")
	b.ReportMetric(percentile(took, 1), "max-ms")
}

// percentile returns a percentile of d in milliseconds. It sorts d.
func percentile(d []time.Duration, share float64) float64 {
	slices.Sort(d)
	return float64(d[min(len(d)-1, int(share*float64(len(d))))]) / float64(time.Millisecond)
}

// callers returns at least n connections for dialogues. They use a minimal HTTP client, which takes little time from
// the server on the same machine.
func (s *bench) callers(n int) []*caller {
	s.b.Helper()
	for len(s.list) < n {
		conn := must(net.Dial("tcp", s.addr))
		s.b.Cleanup(func() { conn.Close() })
		s.list = append(s.list, &caller{all: s, conn: conn, in: bufio.NewReader(conn)})
	}
	return s.list
}

// talk is what a grower types in one session, and what the last screen says.
type talk struct {
	entries []string
	end     string
}

// The mix of dialogues in the benchmarks: of ten, six log a pass, three read the dates of a plot, and one registers a
// plot (an assumption, no source).
var (
	talkPass = talk{[]string{"3", "1", "1", "1"}, "Logged"}
	talkDate = talk{[]string{"2", "3"}, "Planted"}
	talkPlot = talk{[]string{"1", "1", "21/5", "1", "1", "1", "20x30"}, "Saved"}
	talks    = [10]*talk{
		&talkPass, &talkDate, &talkPass, &talkDate, &talkPass, &talkDate, &talkPass, &talkPass, &talkPlot, &talkPass,
	}
)

// caller is one connection, which holds one dialogue after another. A dialogue lasts from the dialled code to
// the end of the session.
type caller struct {
	all  *bench
	conn net.Conn
	in   *bufio.Reader

	talk    *talk // nil between two dialogues
	phone   string
	session int64
	step    int

	out, body, reply []byte // buffers that are reused for every call
}

// next sends one callback and reads its answer.
func (c *caller) next() {
	if c.talk == nil {
		c.session = c.all.begun.Add(1)
		// Multiplication by a prime spreads the growers, so that they do not call in the order of their rows on disk.
		grower := int(c.session * 7919 % benchGrowers)
		c.talk, c.phone, c.step = talks[grower%len(talks)], "%2B"+benchPhone(grower).E164()[1:], 0
	}
	event, entry := "entry", ""
	switch n := c.step - 1; {
	case n < 0:
		event = "begin"
	case n < len(c.talk.entries):
		entry = c.talk.entries[n]
	default:
		event = "end"
	}
	c.body = fmt.Appendf(c.body[:0], "phone=%s&session=s%d&step=%d&event=%s&entry=%s",
		c.phone, c.session, c.step, event, entry)
	c.out = fmt.Appendf(c.out[:0], "POST /in/local/ussd HTTP/1.1\r\nHost: rowbell\r\nAuthorization: Bearer "+token+
		"\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n%s", len(c.body), c.body)
	if err := c.call(); err != nil {
		c.all.b.Errorf("step %d of %v: %v", c.step, c.talk.entries, err)
	}
	if c.all.check && c.step == len(c.talk.entries) && !bytes.Contains(c.reply, []byte(c.talk.end)) {
		c.all.b.Errorf("after %v: %s", c.talk.entries, c.reply)
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
