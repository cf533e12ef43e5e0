package service

import (
	"bytes"
	"database/sql"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/engine/report"
	"rowbell/store"
	"rowbell/store/testrun"
)

func fictional(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))) }

func (s *started) keepUp() {
	s.t.Helper()
	ok(s.t, s.upkeep(s.t.Context()))
}

// opens returns the day after planting on which the first window of the first plot opens.
func (s *started) opens(phone store.Phone) (day engine.Day) {
	s.t.Helper()
	s.records(func(tx *store.Tx, now int64) error {
		l, err := tx.Ledger(phone, now)
		if err != nil {
			return err
		}
		season, err := l.Season(1)
		if err != nil {
			return err
		}
		p, err := season.Windows(l.Today())
		day = p.Next.Opens - season.Plot.Planted
		return err
	})
	return day
}

// earlyWeeds adds eight growers whose weeds grow faster than published. At the published rate, their windows open
// today, on day opens after planting, but the weeds had two or three leaves three days ago.
func (s *started) earlyWeeds(opens engine.Day) {
	s.t.Helper()
	today := engine.DayOf(s.clock.Now(), time.UTC)
	for i := range 8 {
		s.register(fictional(1+i), opens, engine.Sighting{On: today - 3, Leaves: engine.TwoThree})
	}
}

const fresh = store.Phone("+447700900099")

// Growers report weeds earlier than expected; then the windows of other plots of the place open earlier. Without
// learning, the windows open as at the published growth rate.
func TestAPlaceLearnsFromItsGrowers(t *testing.T) {
	c := configtest.Fresh(t, "place.learning = true")
	at := time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC)
	s := start(t, c, at)
	s.register(fresh, 2)
	before := s.opens(fresh)
	s.earlyWeeds(before)
	s.keepUp()
	learned := s.places()[store.DefaultPlace]
	if learned.LearnedN != 8 || learned.WeedRate <= 1.03 || learned.WeedRate > engine.MaxWeedRate {
		t.Fatalf("learned %g from %d", learned.WeedRate, learned.LearnedN)
	}
	if after := s.opens(fresh); after >= before {
		t.Errorf("the window opens on day %d, before it learned %d", after, before)
	}
	log := testrun.WithoutChance(s.log.String())
	if !strings.Contains(log, "learning") || strings.Contains(log, "77009") {
		t.Errorf("log: %s", log)
	}
	s.log.Reset()
	s.clock.Advance(24 * time.Hour)
	if s.keepUp(); s.log.Len() != 0 {
		t.Errorf("once more, with nothing new: %s", s.log)
	}
	s.stop()

	*c.Place.Learning = false
	s = start(t, c, at)
	if off := s.opens(fresh); off != before {
		t.Errorf("without learning the window opens on day %d, want %d", off, before)
	}
	if stored := s.places()[store.DefaultPlace]; stored.WeedRate != learned.WeedRate {
		t.Errorf("what was learned is gone: %g", stored.WeedRate)
	}
}

func TestLearningIsTriedAgain(t *testing.T) {
	c := configtest.Fresh(t, "place.learning = true")
	s := start(t, c, time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC))
	s.register(fresh, 2)
	s.earlyWeeds(s.opens(fresh))
	disk, err := sql.Open("sqlite3", "file:"+c.DB)
	ok(t, err)
	defer disk.Close()
	change := func(statement string) {
		t.Helper()
		_, err := disk.ExecContext(t.Context(), statement)
		ok(t, err)
	}
	change("CREATE TRIGGER fails BEFORE UPDATE OF weed_rate ON place BEGIN SELECT RAISE(ABORT, 'no room'); END")
	if err := s.upkeep(t.Context()); err == nil || !strings.Contains(err.Error(), "no room") {
		t.Fatalf("upkeep did not fail: %v", err)
	}
	change("DROP TRIGGER fails")
	s.clock.Advance(upkeepEvery)
	s.keepUp()
	if p := s.places()[store.DefaultPlace]; p.LearnedN != 8 {
		t.Errorf("an hour later it has learned from %d growers, want 8", p.LearnedN)
	}
}

// Upkeep empties the write-ahead log, because it may contain erased records.
func TestUpkeepEmptiesTheLog(t *testing.T) {
	c := configtest.Fresh(t, "")
	s := start(t, c, configtest.SampleTime)
	if b, err := os.ReadFile(c.DB + "-wal"); err != nil || len(b) == 0 {
		t.Fatalf("the log is empty before: %v", err)
	}
	s.keepUp()
	if b, err := os.ReadFile(c.DB + "-wal"); err != nil || len(bytes.TrimSpace(b)) > 0 {
		t.Errorf("%d bytes are left in the log (%v)", len(b), err)
	}
}

// Each hour, the sums of the season report are those of the records. After a count of much work it is done once a day.
func TestUpkeepCountsTheReport(t *testing.T) {
	s := start(t, configtest.Fresh(t, ""), time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC))
	plots := func() (n int64) {
		s.records(func(tx *store.Tx, now int64) error {
			sums, err := tx.FieldSums(store.Scope{1}, report.Span{From: 0, To: report.MonthOf(30_000)})
			n = sums.ByPlace.All().Planted()
			return err
		})
		return n
	}
	s.register(fictional(1), 10)
	s.keepUp()
	if n := plots(); n != 1 {
		t.Fatalf("%d plots in the report, want 1", n)
	}
	s.register(fictional(2), 10)
	s.clock.Advance(upkeepEvery)
	s.keepUp()
	if n := plots(); n != 2 {
		t.Errorf("%d plots in the report an hour later, want 2", n)
	}
	much := store.ReportCounted{Rows: hourlyReport + 1}
	s.records(func(tx *store.Tx, now int64) error { return tx.KeepReportCounted(much) })
	s.register(fictional(3), 10)
	s.clock.Advance(upkeepEvery)
	s.keepUp()
	if n := plots(); n != 2 {
		t.Errorf("%d plots in the report: so much work was done again within the day", n)
	}
	s.clock.Advance(24 * time.Hour)
	s.keepUp()
	if n := plots(); n != 3 {
		t.Errorf("%d plots in the report a day later, want 3", n)
	}
}

// When the daily limit of wrong codes (for a move to a new number) is reached, one log line a day says so. /readyz
// shows a note until the day ends.
func TestWrongCodesAreLogged(t *testing.T) {
	s := start(t, configtest.Fresh(t, ""), configtest.SampleTime)
	for _, step := range []struct {
		guesses int
		later   time.Duration
		logged  int // number of log lines about wrong codes so far
		noted   bool
	}{
		{guesses: 99},
		{guesses: 1, logged: 1, noted: true},
		{later: 24 * time.Hour, logged: 1},
		{guesses: 100, logged: 2, noted: true},
	} {
		s.clock.Advance(step.later)
		for i := range step.guesses {
			s.records(func(tx *store.Tx, now int64) error {
				l, err := tx.Ledger(fictional(i), now)
				if err != nil {
					return err
				}
				_, _, err = l.TakeOver("none")
				return err
			})
		}
		for range 3 {
			s.keepUp()
		}
		if n := strings.Count(s.log.String(), "codes: so many wrong codes"); n != step.logged {
			t.Errorf("%+v: logged %d times:\n%s", step, n, s.log)
		}
		w := s.answer(httptest.NewRequest(http.MethodGet, "/readyz", nil))
		if w.Code != http.StatusOK || strings.Contains(w.Body.String(), "\nnote: so many wrong codes") != step.noted {
			t.Errorf("%+v: %d\n%s", step, w.Code, w.Body)
		}
	}
}
