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

// If the records refuse the text of one grower, the others of the batch get theirs, and the grower is looked at again
// tomorrow. If they refuse everything, Ring says so and loses nothing.
func TestRecordsRefuse(t *testing.T) {
	if testrun.OnServer() {
		t.Skip("about a file")
	}
	v := newValley(t)
	var log bytes.Buffer
	v.b.o.Log = zerolog.New(&log)
	const growers, bad = 3 * writeStep, 13
	for n := range growers {
		v.grower(n, 15)
	}
	disk := must(sql.Open("sqlite3", "file:"+v.path))
	defer disk.Close()
	change := func(statement string) {
		t.Helper()
		if _, err := disk.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	fails := "CREATE TRIGGER fails BEFORE INSERT ON message WHEN %s BEGIN SELECT RAISE(ABORT, 'no room'); END"
	change(fmt.Sprintf(fails, "new.phone = '"+phone(bad).E164()+"'"))
	v.clock.Set(dawn.Add(time.Hour))
	v.ring(growers - 1)
	n := strings.Count(log.String(), "no text can be written")
	if n != 1 || !strings.Contains(log.String(), "no room") {
		t.Errorf("%d log lines:\n%s", n, &log)
	}
	v.ring(0)
	change("DROP TRIGGER fails")
	v.clock.Advance(24 * time.Hour)
	v.ring(1)

	change("CREATE TRIGGER fails BEFORE UPDATE ON plot BEGIN SELECT RAISE(ABORT, 'no room'); END")
	v.clock.Advance(24 * time.Hour)
	_, err := v.b.Ring(context.Background(), v.clock.Now())
	if err == nil || !strings.Contains(err.Error(), "no room") {
		t.Errorf("error %v", err)
	}
	change("DROP TRIGGER fails")
	v.ring(-1)
	if list := v.inbox(bad); len(list) != 2 {
		t.Errorf("the grower has %d texts, want 2", len(list))
	}
}
