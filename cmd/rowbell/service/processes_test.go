package service

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
	"rowbell/store/testrun"
)

// twoServices are two services that share the records on a server.
type twoServices struct {
	a, b *started
	c    config.Config
	db   *sql.DB
}

func startTwo(t *testing.T, file string) *twoServices {
	t.Helper()
	if !testrun.OnServer() {
		t.Skip("about a server: .ci/postgres go test ./cmd/rowbell/service -run Processes")
	}
	f := &twoServices{c: configtest.Fresh(t, file)}
	f.c.DB = testrun.Database(t, makeRecords)
	var err error
	f.db, err = sql.Open("pgx", f.c.DB)
	ok(t, err)
	t.Cleanup(func() { f.db.Close() })
	f.a, f.b = f.start(t, "a"), f.start(t, "b")
	return f
}

func (f *twoServices) start(t *testing.T, name string) *started {
	t.Helper()
	return startProcess(t, f.c, time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC), name)
}

// change runs a statement, which must change a row.
func (f *twoServices) change(statement string) {
	f.a.t.Helper()
	r, err := f.db.ExecContext(context.Background(), statement)
	ok(f.a.t, err)
	if n, err := r.RowsAffected(); n == 0 || err != nil {
		f.a.t.Fatalf("%s: %d rows, %v", statement, n, err)
	}
}

// Learning is done by one process a day. A process does not learn while another one has the lease, but does so after
// the lease of one that died has ended.
func TestProcessesShareLearning(t *testing.T) {
	f := startTwo(t, "place.learning = true")
	f.a.register(fresh, 2)
	f.a.earlyWeeds(f.a.opens(fresh))
	f.a.keepUp()
	learned := func() int { return f.b.places()[store.DefaultPlace].LearnedN }
	if n := learned(); n != 8 {
		t.Fatalf("learned from %d growers, want 8", n)
	}
	f.change("UPDATE place SET learned_n = 0")
	f.b.keepUp()
	if n := learned(); n != 0 {
		t.Errorf("another process learned once more on the same day, from %d growers", n)
	}
	f.b.clock.Advance(24 * time.Hour)
	f.change("UPDATE lease SET until = 99999999999, number = number + 1, holder = 'a' WHERE name = 'learning'")
	f.b.keepUp()
	if n := learned(); n != 0 {
		t.Errorf("learned from %d growers while another process had the lease", n)
	}
	if strings.Contains(f.b.log.String(), "taken over") {
		t.Errorf("it began the work of another process: %s", f.b.log)
	}
	f.change("UPDATE lease SET until = 1 WHERE name = 'learning'") // the other process died
	f.b.keepUp()
	if n := learned(); n != 8 {
		t.Errorf("after the other process died, learned from %d growers, want 8", n)
	}
}

// A process is stopped in the middle of its work until another has taken it over. Its next write is refused, the work
// does not count as done by it, and the log says so.
func TestProcessesThatLoseALease(t *testing.T) {
	f := startTwo(t, "")
	var wrote error
	ok(t, f.a.withLease(t.Context(), "work", atEachUpkeep, func(ctx context.Context) (bool, error) {
		f.change("UPDATE lease SET number = number + 1, holder = 'b' WHERE name = 'work'")
		wrote = f.a.store.InTx(ctx, func(*store.Tx) error { return nil })
		return true, wrote
	}))
	if !errors.Is(wrote, store.ErrLeaseLost) || !strings.Contains(f.a.log.String(), "another process has taken over") {
		t.Errorf("%v\n%s", wrote, f.a.log)
	}
	f.a.records(func(tx *store.Tx, _ int64) error {
		at, err := tx.LeaseDone("work")
		if at != 0 {
			t.Errorf("done at %d", at)
		}
		return err
	})
}

// /readyz of a process says that another one was started with its name.
func TestProcessesWithOneName(t *testing.T) {
	f := startTwo(t, "")
	f.a.renewProcess(t.Context())
	ready := func(s *started) string {
		return s.answer(httptest.NewRequest(http.MethodGet, "/readyz", nil)).Body.String()
	}
	if r := ready(f.a); strings.Contains(r, nameTakenNote) {
		t.Errorf("before: %s", r)
	}
	second := f.start(t, "a")
	for range 2 {
		f.a.renewProcess(t.Context())
		second.renewProcess(t.Context())
	}
	if r := ready(f.a); !strings.Contains(r, nameTakenNote) || strings.Count(f.a.log.String(), nameTakenNote) != 1 {
		t.Errorf("the older one: %s\n%s", r, f.a.log)
	}
	if r := ready(second); strings.Contains(r, nameTakenNote) {
		t.Errorf("the newer one: %s", r)
	}
}

// Each process reads its own configuration when it is asked to, and its answer is recorded.
func TestProcessesReloadEach(t *testing.T) {
	f := startTwo(t, "")
	for name, s := range map[string]*started{"a": f.a, "b": f.b} {
		s.load = func() (c config.Config, _ []profile.Profile, _ *config.Secrets, err error) {
			return c, nil, nil, errors.New("refused by " + name)
		}
	}
	f.a.records(func(tx *store.Tx, _ int64) error { return tx.AskReload("r1") })
	f.a.checkConfiguration(t.Context())
	f.b.checkConfiguration(t.Context())
	f.a.records(func(tx *store.Tx, now int64) error {
		list, err := tx.Processes(now)
		for _, p := range list {
			if p.Reload.ID != "r1" || p.Reload.Wrong != "refused by "+p.Name {
				t.Errorf("%+v", p)
			}
		}
		if len(list) != 2 {
			t.Errorf("%d processes", len(list))
		}
		return err
	})
}

// Records are moved while a process is suspended. When the process goes on, it ends and says why, because its answers
// would be in no records that are used.
func TestProcessesEndIfTheRecordsWereMoved(t *testing.T) {
	f := startTwo(t, "")
	ctx, outdated := context.WithCancelCause(t.Context())
	defer outdated(nil)
	f.a.outdated = outdated
	f.a.renewProcess(ctx)
	if ctx.Err() != nil {
		t.Fatalf("it ended before: %v", context.Cause(ctx))
	}
	f.change(`INSERT INTO meta (key, value) VALUES ('copy: moved', '{"to": "other.db"}')`)
	f.a.renewProcess(ctx)
	if err := outdatedCause(ctx); !errors.Is(err, store.ErrMoved) || !strings.Contains(err.Error(), "other.db") {
		t.Errorf("it ends with %v", err)
	}
	if !strings.Contains(f.a.log.String(), "moved to another database") {
		t.Errorf("the log does not say why: %s", f.a.log)
	}
}

// /readyz and the log say that the clock of this machine differs by more than five seconds from that of the server. The
// clock of practice is moved by hand, so it is not compared.
func TestProcessesCompareClocks(t *testing.T) {
	var log bytes.Buffer
	s := &Service{clock: SystemClock{}, log: zerolog.New(&log)}
	for _, step := range []struct {
		gap    time.Duration
		note   string
		logged int
	}{
		{5 * time.Second, "", 0},
		{6 * time.Second, "differ by 6s", 1},
		{7 * time.Second, "differ by 7s", 1},
		{0, "", 1},
		{-6 * time.Second, "differ by 6s", 2},
	} {
		s.compareClocks(step.gap)
		notes := strings.Join(s.processNotes(), "")
		if (notes == "") != (step.note == "") || !strings.Contains(notes, step.note) {
			t.Errorf("%s: the notes are %q", step.gap, notes)
		}
		if n := strings.Count(log.String(), "the clocks of this machine"); n != step.logged {
			t.Errorf("%s: logged %d times, want %d", step.gap, n, step.logged)
		}
	}
	s = &Service{clock: clock.New(time.Unix(0, 0))}
	s.compareClocks(time.Hour)
	if notes := s.processNotes(); notes != nil {
		t.Errorf("a clock that is moved by hand: %q", notes)
	}
}
