package bell

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/meter"
	"rowbell/menu"
	"rowbell/store"
)

// A grower who never answers gets these texts. Their days follow from the engine's weed clocks, by which the window of
// a plot at 25 °C is days 14 to 18 after planting, with a look on day 9.
func TestSilentGrower(t *testing.T) {
	for name, tt := range map[string]struct {
		planted []engine.Day // for each plot, the days since it was planted
		days    int
		want    []string
	}{
		"the texts of a season, in order": {[]engine.Day{5}, 60, []string{
			"+4 prepare", "+9 open", "+12 last-days", "+14 missed",
			"+23 prepare", "+28 open", "+31 last-days", "+33 missed", "+44 closed"}},
		"different questions on two mornings": {[]engine.Day{13, 17}, 2, []string{"+0 last-days", "+1 open"}},
		"a third plot with the same question": {[]engine.Day{15, 15, 15}, 2, []string{"+0 open", "+1 open"}},
	} {
		t.Run(name, func(t *testing.T) {
			v := newValley(t)
			v.grower(1, tt.planted...)
			equal(t, v.days(1, tt.days), tt.want...)
		})
	}
}

// After 90 silent days texts name a plot by its number only, because the phone may belong to another person by then. A
// call or text of the grower brings the plot's name back.
func TestSilentNumber(t *testing.T) {
	v := newValley(t)
	v.grower(1)
	v.clock.Advance(82 * 24 * time.Hour)
	v.as(1, func(l *store.Ledger) error { // the 90th day of silence is in the season of this plot
		_, err := l.AddPlot(engine.Plot{
			Label: "wellside", Method: engine.Transplanted, Planted: l.Today() - 6,
			RowSpacingCM: 20, HillSpacingCM: 20,
		}, engine.Tool{WidthCM: 15})
		return err
	})
	for _, c := range []struct {
		days         int
		kind         string
		named, heard bool
	}{{7, "prepare", true, false}, {1, "open", false, false}, {3, "last-days", true, true}} {
		if c.heard {
			v.as(1, (*store.Ledger).Confirm)
		}
		v.clock.Advance(time.Duration(c.days) * 24 * time.Hour)
		v.clock.Set(v.clock.Now().Truncate(24 * time.Hour).Add(7 * time.Hour))
		v.ring(1)
		name := map[bool]string{true: "wellside: ", false: "Plot 1: "}[c.named]
		list := v.inbox(1)
		if len(list) != 1 || list[0].Kind() != c.kind || !strings.HasPrefix(list[0].Text, name) {
			t.Fatalf("want %+v, got %+v", c, list)
		}
	}
}

// After a pass is logged, the texts about its window end and the texts about the next window start.
func TestAnswered(t *testing.T) {
	v := newValley(t)
	v.grower(1, 12)
	equal(t, v.days(1, 3), "+0 prepare", "+2 open")
	v.as(1, func(l *store.Ledger) error {
		return l.LogPass(1, engine.Pass{On: l.Today(), With: engine.ByTool, Left: engine.Many})
	})
	got := v.days(1, 12)
	if len(got) < 2 || !strings.HasSuffix(got[0], "prepare") || !strings.HasSuffix(got[1], "open") {
		t.Errorf("after the pass came %v", got)
	}
}

// After an outage a plot gets only the text that is true today.
func TestOutage(t *testing.T) {
	v := newValley(t)
	v.grower(1, 4)
	equal(t, v.days(1, 7), "+5 prepare")
	v.clock.Advance(5 * 24 * time.Hour) // the day on which the window opened passes during the outage
	equal(t, v.days(1, 1), "+12 open")
	v.clock.Advance(10 * 24 * time.Hour)
	equal(t, v.days(1, 1), "+23 missed")
}

// A plot that its grower changed today gets its text the next morning, because the screen has just told its news. In
// quiet hours every text waits for the next morning.
func TestNextMorning(t *testing.T) {
	midnight := dawn.Truncate(24 * time.Hour)
	for name, hours := range map[string][2]time.Duration{ // the hours at which the plot is registered and the bell runs
		"registered today": {12, 12}, "registered in quiet hours": {21, 21}, "due in the morning": {6, 21},
	} {
		t.Run(name, func(t *testing.T) {
			v := newValley(t)
			v.clock.Set(midnight.Add(hours[0] * time.Hour))
			v.grower(1, 13)
			v.clock.Set(midnight.Add(hours[1] * time.Hour))
			v.ring(0)
			equal(t, v.days(1, 1), "+1 open")
		})
	}
}

// Two plots with the same news share one text, and the worker that sends texts is woken. The text announces the days of
// both windows, and sets a prompt that can be answered until the last second of the last of these days.
func TestTwoPlotsShare(t *testing.T) {
	v := newValley(t)
	woken := 0
	v.b.o.Queued = func() { woken++ }
	v.grower(1, 15, 15, 5)
	v.clock.Set(dawn.Add(time.Hour))
	v.ring(1)
	if list := v.inbox(1); list[0].Kind() != "open" || !strings.Contains(list[0].Text, "Plot 1 and Plot 2") {
		t.Errorf("the text is %s: %q", list[0].Kind(), list[0].Text)
	}
	if v.ring(0); woken != 1 {
		t.Errorf("the worker was woken %d times for one text", woken)
	}
	announced := make([]engine.Window, 4) // by the number of the plot
	v.as(1, func(l *store.Ledger) error {
		for no := 1; no < len(announced); no++ {
			season, err := l.Season(no)
			if err != nil {
				return err
			}
			announced[no] = season.Announced
		}
		return nil
	})
	if today := engine.DayOf(dawn, time.UTC); announced[1].Closes < today || announced[2] != announced[1] ||
		announced[3] != (engine.Window{}) {
		t.Errorf("announced: %+v", announced)
	}
	v.tx(func(tx *store.Tx) error {
		p, prompted, err := tx.Prompt(phone(1))
		if err == nil && (!prompted || len(p.Body) == 0) {
			t.Error("no prompt")
		}
		if want := (announced[1].Closes+1).At(0, time.UTC).Unix() - 1; p.Until != want {
			t.Errorf("the prompt is valid until %s, want %s", time.Unix(p.Until, 0).UTC(), time.Unix(want, 0).UTC())
		}
		return err
	})
}

// A grower who sent STOP gets no texts until START.
func TestStopped(t *testing.T) {
	v := newValley(t)
	v.grower(1, 12)
	v.as(1, (*store.Ledger).Stop)
	equal(t, v.days(1, 2))
	v.as(1, (*store.Ledger).Start)
	equal(t, v.days(1, 1), "+2 open")
}

// A newer text about a plot replaces an older one that was not sent. So at most one text about each plot waits in the
// outbox, even if no network sends texts for days.
func TestNewerTextReplacesOneThatWaits(t *testing.T) {
	v := newValley(t)
	v.grower(1, 14)
	v.days(1, 12)
	v.tx(func(tx *store.Tx) error {
		list, err := tx.Inbox(phone(1), 0)
		waiting := 0
		for _, m := range list {
			if m.State == store.Queued {
				waiting++
			}
		}
		if waiting != 1 {
			t.Errorf("%d texts wait", waiting)
		}
		return err
	})
}

// Two plots share a text that was not sent yet, and a pass is logged on one of them. The shared text is withdrawn, and
// the other plot gets its own text on the same morning.
func TestSharedTextWithdrawn(t *testing.T) {
	v := newValley(t)
	v.grower(1, 15, 15)
	v.clock.Set(dawn.Add(time.Hour))
	v.ring(1)
	v.clock.Advance(30 * time.Minute)
	v.as(1, func(l *store.Ledger) error {
		return l.LogPass(1, engine.Pass{On: l.Today(), With: engine.ByTool})
	})
	v.ring(1)
	list := v.inbox(1)
	if len(list) != 2 || list[0].State != store.Withdrawn || list[1].State != store.Queued ||
		!strings.Contains(list[1].Text, "Plot 2") || strings.Contains(list[1].Text, "Plot 1") {
		t.Errorf("the outbox holds %+v", list)
	}
	v.ring(0)
}

// Two plots share a text that still waits, and one of them has further news. Each plot then gets its own text that
// morning.
func TestSharedTextSuperseded(t *testing.T) {
	v := newValley(t)
	v.grower(1, 15, 14)
	v.clock.Set(dawn.Add(90 * time.Minute))
	for _, want := range []int{1, 0, 2} {
		v.ring(want)
		v.clock.Advance(24 * time.Hour)
	}
	var got []string
	for _, m := range v.inbox(1) {
		got = append(got, m.Kind()+" "+m.State.String())
	}
	equal(t, got, "open withdrawn", "last-days queued", "open queued")
}

// badMenu fails or panics for a plot with one of these labels, unless two plots share the text.
type badMenu struct {
	Menu
	fails, panics string
}

func (m badMenu) Ring(lang string, bells ...menu.Bell) (menu.Ringing, error) {
	switch label := bells[0].Season.Plot.Label; {
	case len(bells) > 1:
	case label == m.fails:
		return menu.Ringing{}, errors.New("no such text")
	case label == m.panics:
		panic("a plot called " + label)
	}
	return m.Menu.Ring(lang, bells...)
}

// When no text can be written for one grower, the other growers still get their texts. The plots of the grower without
// a text are looked at again the next day.
func TestOneBadGrower(t *testing.T) {
	for _, batch := range []int{0, 1, 2} {
		t.Run(fmt.Sprint("batch ", batch), func(t *testing.T) {
			v := newValley(t)
			var log bytes.Buffer
			bad := badMenu{v.b.o.Menu, "rock", "hollow"}
			good := v.b
			v.b = New(Options{
				Store: v.s, QuietHour: 20, Menu: bad, Clock: v.clock, Log: zerolog.New(&log), Batch: batch,
			})
			for n := range 6 {
				// Plot 1 is weeded by hand, and its text "prepare" asks nothing; plot 2 has the news "last days".
				// So each grower gets two texts. Plot 1 has the less urgent news, so its text fails after the text
				// about plot 2 was written.
				v.grower(n, 8, 17)
				v.as(n, func(l *store.Ledger) error {
					s, err := l.Season(1)
					if err != nil {
						return err
					}
					s.Plot.Method, s.Plot.RowSpacingCM, s.Plot.HillSpacingCM = engine.Broadcast, 0, 0
					s.Plot.Label = map[int]string{1: "rock", 4: "hollow"}[n]
					return l.ChangePlot(1, s.Plot, engine.Tool{})
				})
			}
			v.clock.Set(dawn.Add(time.Hour))
			v.ring(8)
			for n := range 6 {
				want := 2
				if n == 1 || n == 4 {
					want = 0
				}
				if got := len(v.inbox(n)); got != want {
					t.Errorf("grower %d got %d texts, want %d", n, got, want)
				}
			}
			got := log.String()
			if strings.Count(got, "no text can be written") != 2 || !strings.Contains(got, "no such text") ||
				strings.Contains(got, "a plot called") { // the message of the panic must not be logged
				t.Errorf("log:\n%s", got)
			}
			v.ring(0) // the bad grower is not tried again at once
			v.clock.Advance(24 * time.Hour)
			v.b = good
			if v.ring(-1); len(v.inbox(1)) == 0 || len(v.inbox(4)) == 0 {
				t.Error("no text on the next day")
			}
		})
	}
}

// After each run of the bell, the metric of the bell's lag says how late the run was for the plot that had waited
// longest.
func TestLag(t *testing.T) {
	v := newValley(t)
	m := meter.New(meter.Options{Clock: v.clock, Store: v.s})
	v.b.o.Meter = m
	v.grower(1, 15)
	v.grower(2, 14)
	ring := func(want time.Duration) {
		t.Helper()
		v.ring(-1)
		w := httptest.NewRecorder()
		m.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
		line := fmt.Sprintf("\nrowbell_bell_lag_seconds %g\n", want.Seconds())
		if !strings.Contains(w.Body.String(), line) {
			t.Errorf("at %s: /metrics has no line %s", v.clock.Now(), line)
		}
	}
	ring(0) // the plots were due only just now, and no text is written before seven: the lag is 0
	v.clock.Set(dawn.Add(4 * time.Hour))
	ring(3 * time.Hour)
	ring(0) // the last run looked at all plots: the lag is 0
}
