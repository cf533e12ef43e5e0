package main

import (
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/mattn/go-sqlite3"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/testrun"
)

// envFaults makes TestDialoguesWhileRecordsFail play all dialogues, each with all intervals of failures.
const envFaults = "ROWBELL_TEST_FAULTS"

// While a dialogue is played, every k-th transaction with the records fails: before it begins, before its commit, or
// after it. The network repeats a callback that got 503, and the loops try again. Every screen and every text is the
// one that the dialogue shows.
func TestDialoguesWhileRecordsFail(t *testing.T) {
	t.Parallel()
	if testrun.OnServer() {
		t.Skip("the failures are those of a file")
	}
	names := []string{"season", "answers", "two-plots", "mistakes", "circle", "stop-start"}
	intervals := []int{2, 3, 5, 7, 11} // without envFaults, one for each name
	all := os.Getenv(envFaults) != ""
	if all {
		files, err := filepath.Glob("../../testdata/dialogues/*.txt")
		must(t, err)
		names = nil
		for _, file := range files {
			names = append(names, strings.TrimSuffix(filepath.Base(file), ".txt"))
		}
	}
	var calls, works atomic.Int64 // that met a failure
	t.Cleanup(func() {
		t.Logf("%d callbacks and %d works of the loops met a failure", calls.Load(), works.Load())
		if filtered := flag.Lookup("test.run").Value.String(); strings.Contains(filtered, "/") {
			return // not all dialogues were played
		}
		if !t.Failed() && (calls.Load() < 50 || works.Load() < 500) {
			t.Error("that is too few to mean something")
		}
	})
	for i, name := range names {
		for j, every := range intervals {
			if !all && j != i%len(intervals) {
				continue
			}
			t.Run(fmt.Sprint(name, "-", every), func(t *testing.T) {
				t.Parallel()
				f := playFailing(t, name, every)
				calls.Add(f.calls)
				works.Add(f.works)
			})
		}
	}
}

// clockShown matches an instant that a command prints. While records fail, the clock goes on by some minutes.
var clockShown = regexp.MustCompile(`T\d\d:\d\d:\d\dZ`)

func playFailing(t *testing.T, name string, every int) (f *failing) {
	file := "../../testdata/dialogues/" + name + ".txt"
	want, err := os.ReadFile(file)
	must(t, err)
	d := newDialogue(t)
	d.behind = func(p *process) player {
		f = newFailing(p, every)
		return f
	}
	dates := func(s string) string { return clockShown.ReplaceAllString(s, "") }
	if got := d.play(string(want)); dates(got) != dates(string(want)) {
		t.Errorf("the answers differ from %s:\n%s", file, firstDifference(dates(string(want)), dates(got)))
	}
	return f
}

// failing is a service in the process of the test, whose records fail at every k-th transaction.
type failing struct {
	*process
	every   int
	now     time.Time    // its clock
	running *inside      // nil while it does not run
	visitor *sql.DB      // reads beside the service
	calls   int64        // callbacks that met a failure
	works   int64        // how often the loops met a failure
	mu      sync.Mutex   // of what follows
	calm    bool         // nothing fails
	crashed bool         // nothing works any more
	posting bool         // a callback is being answered; else the loops work
	counts  map[bool]int // of transactions, by posting
	failed  int          // number of failures
	next    store.Point  // where the write transaction that goes on fails; 0 = nowhere
}

// maxFailures is how often a callback or the loops fail in a row. One that needs as many transactions as k could fail
// for ever.
const maxFailures = 3

func newFailing(p *process, every int) *failing {
	f := &failing{process: p, every: every, counts: map[bool]int{}}
	p.t.Cleanup(f.kill)
	var err error
	f.visitor, err = sql.Open("sqlite3", "file:"+filepath.Join(p.dir, config.DefaultDB)+"?_query_only=1")
	must(p.t, err)
	p.t.Cleanup(func() { f.visitor.Close() })
	return f
}

// point is what the records call at each point of a transaction.
func (f *failing) point(p store.Point) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.crashed {
		return errors.New("the process has ended")
	}
	if p == store.AtView || p == store.AtBegin {
		f.counts[f.posting]++
		due := !f.calm && f.counts[f.posting]%f.every == 0
		switch {
		case p == store.AtBegin && due:
			f.next = []store.Point{store.AtBegin, store.AtCommit, store.Committed}[f.failed%3]
		case p == store.AtBegin:
			f.next = 0
		case due:
			f.failed++
			return sqlite3.Error{Code: sqlite3.ErrIoErr}
		}
	}
	if p != f.next {
		return nil
	}
	f.next = 0
	f.failed++
	return sqlite3.Error{Code: sqlite3.ErrIoErr}
}

// rests sets whether nothing fails, and returns how often something has failed.
func (f *failing) rests(calm bool) (failed int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.calm = calm
	return f.failed
}

func (f *failing) posts(posting bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.posting = posting
}

func (f *failing) start(at time.Time) {
	f.t.Helper()
	f.now = at
	f.mu.Lock()
	f.crashed = false
	f.mu.Unlock()
	for try := 0; ; try++ {
		f.rests(try >= maxFailures)
		running, up := f.startInside(at, func(o *store.Options) { o.Fault = f.point })
		if up {
			f.running = &running
			f.rests(false)
			return
		}
		if err := running.stopped(f.process); try >= maxFailures {
			f.t.Fatalf("the service does not start: %v", err)
		}
	}
}

func (f *failing) stop() {
	f.t.Helper()
	f.rests(true)
	must(f.t, f.running.stopped(f.process))
	f.running = nil
}

// kill ends the service. What it would write after this moment fails.
func (f *failing) kill() {
	if f.running == nil {
		return
	}
	f.mu.Lock()
	f.crashed = true
	f.mu.Unlock()
	_ = f.running.stopped(f.process) // it cannot close what it cannot write any more
	f.running = nil
}

// again posts until the answer is not 503, at most maxFailures times while records fail. It returns the answer and how
// often it failed.
func (f *failing) again(call string, body map[string]any, calm bool) (answer []byte, status, failed int) {
	f.t.Helper()
	for try := 0; ; try++ {
		f.rests(calm || try >= maxFailures)
		b, status, err := f.try(call, body)
		f.rests(false)
		must(f.t, err)
		if status != http.StatusServiceUnavailable || try > maxFailures {
			return b, status, try
		}
	}
}

func (f *failing) post(call string, body map[string]any, want int) []byte {
	f.t.Helper()
	f.posts(true)
	b, status, failed := f.again(call, body, false)
	f.posts(false)
	if status != want {
		f.t.Fatalf("POST %s: %d, want %d: %s\n%s", call, status, want, b, f.log.String())
	}
	f.calls += int64(min(failed, 1))
	return b
}

func (f *failing) set(at time.Time) {
	f.t.Helper()
	if at.After(f.now) {
		f.now = at
	}
	f.work()
}

func (f *failing) settle() {
	f.t.Helper()
	f.work()
}

// work does what is due. The clock goes on while texts wait because of a failure: one that was not tried, or whose
// claim was recorded without the sender knowing.
func (f *failing) work() {
	f.t.Helper()
	for round := 0; ; round++ {
		before := f.rests(false)
		b, status, _ := f.again("clock", map[string]any{"set": f.now.Format(time.RFC3339)}, round >= maxFailures)
		if status != http.StatusNoContent {
			f.t.Fatalf("the clock: %d %s", status, b)
		}
		if f.rests(false) > before {
			f.works++
		}
		var waiting int
		must(f.t, f.visitor.QueryRowContext(f.t.Context(), `SELECT count(*) FROM message WHERE state = 'claimed'
			OR state = 'queued' AND reason = 'not tried: the records cannot be used'`).Scan(&waiting))
		if waiting == 0 {
			return
		}
		f.now = f.now.Add(time.Minute)
	}
}
