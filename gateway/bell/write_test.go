package bell

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/store"
	"rowbell/store/testrun"
)

// meanwhile is a menu during whose first text something else happens.
type meanwhile struct {
	Menu
	happens func()
}

func (m *meanwhile) Ring(lang string, bells ...menu.Bell) (menu.Ringing, error) {
	if happens := m.happens; happens != nil {
		m.happens = nil
		happens()
	}
	return m.Menu.Ring(lang, bells...)
}

// changesOfOthers are changes of the records by growers, operators and another bell.
var changesOfOthers = map[string]func(v *valley){
	"nothing": func(*valley) {},
	"a pass": func(v *valley) {
		v.as(1, func(l *store.Ledger) error {
			return l.LogPass(1, engine.Pass{On: l.Today(), With: engine.ByTool, Left: engine.Many})
		})
	},
	"a sighting": func(v *valley) {
		v.as(1, func(l *store.Ledger) error {
			return l.See(1, engine.Sighting{On: l.Today(), Leaves: engine.OneLeaf})
		})
	},
	"hours on another plot": func(v *valley) {
		v.as(1, func(l *store.Ledger) error {
			return l.LogPass(2, engine.Pass{On: l.Today() - 1, With: engine.ByTool, Hours: 9, People: 1})
		})
	},
	"STOP":          func(v *valley) { v.as(1, (*store.Ledger).Stop) },
	"a closed plot": func(v *valley) { v.as(1, func(l *store.Ledger) error { return l.ClosePlot(1) }) },
	"a name":        func(v *valley) { v.as(1, renamed) },
	"an erasure":    func(v *valley) { v.as(1, (*store.Ledger).Erase) },
	"a price": func(v *valley) {
		v.as(1, func(l *store.Ledger) error { return l.TellHerbicide(1, 40) })
	},
	"weather": func(v *valley) {
		v.tx(func(tx *store.Tx) error {
			var days []store.WeatherDay
			for d := engine.DayOf(dawn, time.UTC) - 20; d < engine.DayOf(dawn, time.UTC); d++ {
				days = append(days, store.WeatherDay{On: d, Measured: engine.Measured{MinC: 14, MaxC: 22, RainMM: 1}})
			}
			return tx.PutWeather(1, days, v.clock.Now().Unix())
		})
	},
	"another bell": func(v *valley) {
		other := New(Options{Store: v.s, QuietHour: 20, Menu: v.b.o.Menu, Clock: v.clock, Log: zerolog.Nop()})
		if _, err := other.Ring(context.Background(), v.clock.Now()); err != nil {
			v.t.Error(err)
		}
	},
}

func renamed(l *store.Ledger) error {
	s, err := l.Season(1)
	if err != nil {
		return err
	}
	s.Plot.Label = "wellside"
	return l.ChangePlot(1, s.Plot, s.Tool)
}

// What is changed while the bell plans counts as if it had been changed before: no text tells what is no longer true,
// and each decision is told once.
func TestChangedWhileTheBellPlans(t *testing.T) {
	for name, change := range changesOfOthers {
		for _, at := range []time.Duration{time.Hour, 90 * time.Minute} {
			t.Run(fmt.Sprint(name, " at ", at), func(t *testing.T) {
				var got [2][]string
				for i, before := range []bool{true, false} {
					v := newValley(t)
					for n := range 3 {
						v.grower(n, 15, 14, 5)
					}
					v.clock.Set(dawn.Add(at))
					happened := false
					happens := func() { happened = true; change(v) }
					if before {
						happens()
					} else {
						v.b.o.Menu = &meanwhile{v.b.o.Menu, happens}
					}
					v.ring(-1)
					v.clock.Advance(24 * time.Hour)
					v.ring(-1)
					for n := range 3 {
						for _, m := range v.inbox(n) {
							got[i] = append(got[i], fmt.Sprintf("%v %s %s %s", m.To, m.Kind(), m.State, m.Text))
						}
					}
					if !happened {
						t.Error("nothing happened")
					}
				}
				if !reflect.DeepEqual(got[0], got[1]) || len(got[0]) < 2 {
					t.Errorf("changed before:\n%s\nchanged meanwhile:\n%s", strings.Join(got[0], "\n"),
						strings.Join(got[1], "\n"))
				}
			})
		}
	}
}

// always is a menu that calls before for each text that it composes, and counts them.
type always struct {
	Menu
	texts  int
	before func()
}

func (m *always) Ring(lang string, bells ...menu.Bell) (menu.Ringing, error) {
	m.texts++
	m.before()
	return m.Menu.Ring(lang, bells...)
}

// While the growers of one batch are written, those of the next batch are planned, and each grower is planned once.
func TestEachGrowerIsPlannedOnce(t *testing.T) {
	v := newValley(t)
	const growers = 6
	for n := range growers {
		v.grower(n, 15)
	}
	counted := &always{Menu: v.b.o.Menu, before: func() {}}
	v.b.o.Menu, v.b.o.Batch = counted, 2
	v.clock.Set(dawn.Add(time.Hour))
	if v.ring(growers); counted.texts != growers {
		t.Errorf("%d texts were composed", counted.texts)
	}
}

// A grower whose records change each time they are planned gets no text now. The bell ends its run, and writes the text
// in a later one.
func TestGrowerWhoKeepsChanging(t *testing.T) {
	v := newValley(t)
	v.grower(1, 15)
	v.clock.Set(dawn.Add(time.Hour))
	menu := &always{Menu: v.b.o.Menu}
	menu.before = func() {
		if menu.texts <= 2*maxChanged {
			v.as(1, func(l *store.Ledger) error { return l.TellHerbicide(1, float64(menu.texts)) })
		}
	}
	v.b.o.Menu = menu
	if v.ring(0); menu.texts != maxChanged+1 {
		t.Errorf("the grower was planned %d times", menu.texts)
	}
	menu.before = func() {}
	v.ring(1)
}

// refusing are records in which a trigger makes writes fail.
type refusing struct {
	t  *testing.T
	db *sql.DB
}

func (v *valley) refusing(t *testing.T) refusing {
	t.Helper()
	driver, address := "sqlite3", "file:"+v.path
	if testrun.OnServer() {
		driver, address = "pgx", v.path
	}
	db := must(sql.Open(driver, address))
	t.Cleanup(func() { db.Close() })
	return refusing{t, db}
}

// refuse makes writes fail. The argument write is such as "INSERT ON message".
func (r refusing) refuse(write, when string) {
	r.t.Helper()
	if !testrun.OnServer() {
		r.change("CREATE TRIGGER fails BEFORE " + write + " WHEN " + when +
			" BEGIN SELECT RAISE(ABORT, 'no room'); END")
		return
	}
	r.change("CREATE OR REPLACE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS " +
		"$$ BEGIN RAISE EXCEPTION 'no room'; END $$")
	r.change("CREATE TRIGGER fails BEFORE " + write + " FOR EACH ROW WHEN (" + when + ") EXECUTE FUNCTION refuse()")
}

// accept ends what refuse has begun.
func (r refusing) accept(table string) {
	r.t.Helper()
	statement := "DROP TRIGGER fails"
	if testrun.OnServer() {
		statement += " ON " + table
	}
	r.change(statement)
}

func (r refusing) change(statement string) {
	r.t.Helper()
	if _, err := r.db.Exec(statement); err != nil {
		r.t.Fatal(err)
	}
}

// If reading breaks off when some of the due growers are read, Ring says so. The growers are rung later.
func TestReadingBreaksOff(t *testing.T) {
	v := newValley(t)
	v.grower(1, 15)
	v.clock.Set(dawn.Add(time.Hour))
	records := v.refusing(t)
	records.change("ALTER TABLE told RENAME TO elsewhere")
	if texts, err := v.b.Ring(t.Context(), v.clock.Now()); texts != 0 || err == nil {
		t.Errorf("%d texts, error %v", texts, err)
	}
	records.change("ALTER TABLE elsewhere RENAME TO told")
	v.ring(1)
}

// If the records refuse the text of one grower, the others of the batch get theirs, and the grower is looked at again
// tomorrow. If they refuse everything, Ring says so and loses nothing.
func TestRecordsRefuse(t *testing.T) {
	v := newValley(t)
	var log bytes.Buffer
	v.b.o.Log = zerolog.New(&log)
	const bad = 13
	growers := 3 * v.s.RoundsAtOnce()
	for n := range growers {
		v.grower(n, 15)
	}
	records := v.refusing(t)
	records.refuse("INSERT ON message", "new.phone = '"+phone(bad).E164()+"'")
	v.clock.Set(dawn.Add(time.Hour))
	v.ring(growers - 1)
	n := strings.Count(log.String(), "no text can be written")
	if n != 1 || !strings.Contains(log.String(), "no room") {
		t.Errorf("%d log lines:\n%s", n, &log)
	}
	v.ring(0)
	records.accept("message")
	v.clock.Advance(24 * time.Hour)
	v.ring(1)

	records.refuse("UPDATE ON plot", "true")
	v.clock.Advance(24 * time.Hour)
	_, err := v.b.Ring(context.Background(), v.clock.Now())
	if err == nil || !strings.Contains(err.Error(), "no room") {
		t.Errorf("error %v", err)
	}
	records.accept("plot")
	v.ring(-1)
	if list := v.inbox(bad); len(list) != 2 {
		t.Errorf("the grower has %d texts, want 2", len(list))
	}
}

// The bell marks growers who changed for the list of the morning, and no others: their plots are planned once a day
// anyway.
func TestTheBellMarksWhoChanged(t *testing.T) {
	v := newValley(t)
	marked := func() (due bool) {
		v.tx(func(tx *store.Tx) (err error) { due, err = tx.AttentionDue(v.clock.Now().Unix()); return err })
		return due
	}
	keep := func() {
		t.Helper()
		if _, _, err := v.s.KeepAttention(t.Context(), v.clock.Now().Unix()); err != nil || marked() {
			t.Errorf("still marked, or %v", err)
		}
	}
	v.grower(1, 11)
	v.clock.Advance(time.Hour)
	v.ring(-1)
	keep()
	for range 4 { // mornings on which only the bell does something
		v.clock.Advance(24 * time.Hour)
		keep()
		v.ring(-1)
		if marked() {
			t.Errorf("%s: marked by the bell's own look", v.clock.Now())
		}
	}
	v.as(1, func(l *store.Ledger) error { return l.See(1, engine.Sighting{On: l.Today(), Leaves: engine.TwoThree}) })
	v.clock.Advance(time.Minute)
	v.ring(-1)
	if !marked() {
		t.Error("a grower who saw weeds is not marked")
	}
}
