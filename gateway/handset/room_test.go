package handset

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// ok ends the test if there is an error.
func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// must returns v; it panics on an error, which fails the test.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// service stands in for the real service. It records all calls and answers each with a screen that repeats the entry.
type service struct {
	mu  sync.Mutex
	got []map[string]any
}

func (s *service) Do(req *http.Request) (*http.Response, error) {
	w := httptest.NewRecorder()
	s.ServeHTTP(w, req)
	return w.Result(), nil
}

func (s *service) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var body map[string]any
	if r.Header.Get("Authorization") != "Bearer secret" {
		http.Error(w, "who is this?", http.StatusUnauthorized)
		return
	}
	if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	body["path"] = r.URL.Path
	s.mu.Lock()
	s.got = append(s.got, body)
	s.mu.Unlock()
	switch {
	case r.URL.Path == "/in/local/sms":
		w.WriteHeader(http.StatusAccepted)
	case body["event"] == "begin":
		fmt.Fprintf(w, `{"text":"You dialled %s\n1 Check a plot\n0 Leave","more":true}`, body["dialled"])
	case body["entry"] == "0":
		fmt.Fprint(w, `{"text":"Goodbye <b>","more":false}`)
	case body["entry"] == "9":
		http.Error(w, "the service is out of order", http.StatusInternalServerError)
	default:
		fmt.Fprintf(w, `{"text":"You chose %s\n0 Leave","more":true}`, body["entry"])
	}
}

// take returns the given fields of each recorded call, and then forgets the calls.
func (s *service) take(fields ...string) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []string
	for _, body := range s.got {
		line := ""
		for _, f := range fields {
			line += fmt.Sprint(body[f], " ")
		}
		out = append(out, line[:len(line)-1])
	}
	s.got = nil
	return out
}

// hamlet is a Valley with two growers, of whom the first gets a text every third day.
type hamlet struct {
	now    time.Time
	texts  map[string][]Text
	closed bool // NextDay and BeginAgain return an error
	silent bool // no text comes
	circle circle.Circle
}

const first, second = "+447700900001", "+447700900002"

func newHamlet() *hamlet {
	h := &hamlet{now: time.Date(2026, 6, 1, 7, 0, 0, 0, time.FixedZone("", 3*3600)), texts: map[string][]Text{}}
	h.texts[first] = []Text{{At: h.now.AddDate(0, 0, -3), Kind: "welcome", Body: "Welcome."}}
	h.texts[second] = []Text{{At: h.now, Kind: "open", Body: "Weed now."}}
	return h
}

func (h *hamlet) Now() time.Time { return h.now }

func (h *hamlet) NextDay(context.Context) error {
	if h.closed {
		return errors.New("the calendar is torn")
	}
	h.now = h.now.AddDate(0, 0, 1)
	if h.now.Day()%3 == 0 && !h.silent {
		h.texts[first] = append(h.texts[first], Text{At: h.now, Kind: "nudge", Body: "Look at <i>the plot</i>."})
	}
	return nil
}

func (h *hamlet) Circle(_ context.Context, number string) (circle.Circle, bool, error) {
	return h.circle, number == first && len(h.circle.Members) > 0, nil
}

func (h *hamlet) First() engine.Day { return engine.Date(2026, time.June, 1) }

func (h *hamlet) BeginAgain(context.Context) error {
	if h.closed {
		return errors.New("the calendar is torn")
	}
	*h = *newHamlet()
	return nil
}

func (h *hamlet) Settle(context.Context) error { return nil }

func (h *hamlet) Phones(context.Context) ([]Phone, error) {
	return []Phone{{Number: first, Name: "Asha"}, {Number: second, Name: "Bento"}}, nil
}

func (h *hamlet) Texts(_ context.Context, number string) ([]Text, error) {
	return slices.Clone(h.texts[number]), nil
}

func (h *hamlet) Plots(_ context.Context, number string) ([]Plot, error) {
	if number != first {
		return nil, nil
	}
	planted := engine.Date(2026, 5, 17)
	return []Plot{{No: 1, Season: engine.Season{
		Plot: engine.Plot{
			Label: "<well>", Method: engine.Transplanted, Planted: planted,
			RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: 2000,
		},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(20, 30),
	}}}, nil
}

func newTestRoom(t testing.TB) (*Room, *hamlet, *service) {
	t.Helper()
	h, s := newHamlet(), &service{}
	room := must(NewRoom(t.Context(), h, NewLine(s, "http://local.invalid/", "secret", "r1"), "*123#"))
	return room, h, s
}

func TestLineSpeaksOurWireFormat(t *testing.T) {
	room, _, s := newTestRoom(t)
	ctx := t.Context()
	for _, entry := range []string{"", "1", "1", "0", "*123*1#"} {
		must(room.Call(ctx, first, entry))
	}
	ok(t, errors.Join(room.Hang(ctx, first), room.Send(ctx, first, "1"), room.Send(ctx, first, "1")))
	want := []string{
		"/in/local/ussd call-r1-1 begin *123#  0",
		"/in/local/ussd call-r1-1 entry <nil> 1 1",
		"/in/local/ussd call-r1-1 entry <nil> 1 2",
		"/in/local/ussd call-r1-1 entry <nil> 0 3",
		"/in/local/ussd call-r1-2 begin *123*1#  0",
		"/in/local/ussd call-r1-2 end <nil>  1",
		"/in/local/sms <nil> <nil> <nil> <nil> <nil>",
		"/in/local/sms <nil> <nil> <nil> <nil> <nil>",
	}
	s.mu.Lock()
	if a, b := s.got[6]["id"], s.got[7]["id"]; a == b || a == nil {
		t.Errorf("two texts have the ids %v and %v", a, b)
	}
	s.mu.Unlock()
	if got := s.take("path", "session", "event", "dialled", "entry", "step"); !slices.Equal(got, want) {
		t.Errorf("posted\n%q\nwant\n%q", got, want)
	}
}

func TestCallsStayApart(t *testing.T) {
	room, _, _ := newTestRoom(t)
	ctx := t.Context()
	must(room.Call(ctx, first, ""))
	if room.Screen(second).Text != "" {
		t.Error("one phone's call shows on another")
	}
	if _, err := room.Call(ctx, first, "9"); err == nil {
		t.Error("a refused call is not told")
	}
	if !room.Screen(first).Open {
		t.Error("a failed step ended the call: it could not be tried again")
	}
}

func TestNextDayEndsDialogues(t *testing.T) {
	room, _, s := newTestRoom(t)
	ctx := t.Context()
	for _, phone := range []string{first, second} {
		must(room.Call(ctx, phone, ""))
	}
	s.take("event")
	ok(t, room.NextDay(ctx))
	if got := s.take("event"); !slices.Equal(got, []string{"end", "end"}) {
		t.Errorf("the service heard %q, want two ends", got)
	}
	if screen := room.Screen(first); screen != (Screen{}) {
		t.Errorf("the screen still shows %+v", screen)
	}
}

func TestNotebook(t *testing.T) {
	room, h, _ := newTestRoom(t)
	ctx := t.Context()
	unread := func(number string, want int) {
		t.Helper()
		if got, err := room.Unread(ctx, number); err != nil || got != want {
			t.Errorf("%d unread on %s, want %d (%v)", got, number, want, err)
		}
	}
	unread(first, 0)  // the first phone's text came days ago, so it counts as read
	unread(second, 1) // the second phone has one text that nobody has read yet
	for range 3 {     // receive texts before, between and after the texts that the phone sends
		if s := must(room.NextText(ctx, first)); s.End != TextCame || s.Days > 3 {
			t.Fatalf("next text: %+v", s)
		}
		unread(first, 1)
		ok(t, room.Send(ctx, first, "1"))
		unread(first, 0)
	}
	book := must(room.Notebook(ctx, first))
	var order string
	for _, e := range book {
		order += map[bool]string{true: "me ", false: "them "}[e.Mine]
	}
	if want := "them them me them me them me "; order != want {
		t.Errorf("notebook in order %q, want %q", order, want)
	}
	h.texts[first] = append(h.texts[first], Text{At: h.now, Body: "an answer"})
	unread(first, 1)
	ok(t, room.Read(ctx, first))
	unread(first, 0)
}

// NextText does not move the calendar of all phones for a text that cannot come.
func TestNextTextStops(t *testing.T) {
	room, h, _ := newTestRoom(t)
	ctx := t.Context()
	if s := must(room.NextText(ctx, second)); s != (Search{End: NoPlot}) {
		t.Errorf("a phone without a plot: %+v", s)
	}
	if s, err := room.NextText(ctx, first); err != nil || s.End != TextCame {
		t.Errorf("a season that goes on: %+v, %v", s, err)
	}
	last := must(must(h.Plots(ctx, first))[0].Season.Windows(room.today())).Closure.LastToolDay
	h.now, h.silent = last.At(7, h.now.Location()), true
	if s := must(room.NextText(ctx, first)); s != (Search{Days: 1, End: SeasonOver}) || room.today() != last+1 {
		t.Errorf("the end of the season is on %s: %+v on %s", last+1, s, room.today())
	}
	if s := must(room.NextText(ctx, first)); s != (Search{End: SeasonOver}) {
		t.Errorf("after the end: %+v", s)
	}
	h.now, h.closed = last.At(7, h.now.Location()), true
	if _, err := room.NextText(ctx, first); err == nil {
		t.Error("a calendar that does not move is not told")
	}
}

func TestBeginAgain(t *testing.T) {
	room, h, _ := newTestRoom(t)
	ctx := t.Context()
	begun := must(room.Phones(ctx))
	added := must(room.NewPhone(ctx))
	must(room.NextText(ctx, first))
	must(room.Call(ctx, first, ""))
	ok(t, room.Send(ctx, second, "1"))
	ok(t, room.BeginAgain(ctx))
	if got := must(room.Phones(ctx)); !slices.Equal(got, append(begun, added)) {
		t.Errorf("the phones are %+v", got)
	}
	if room.Screen(first) != (Screen{}) || room.today() != h.First() {
		t.Errorf("on %s the screen shows %+v", room.today(), room.Screen(first))
	}
	for _, number := range []string{first, second} {
		book := must(room.Notebook(ctx, number))
		if len(book) != 1 || book[0].Mine || book[0].New != (number == second) {
			t.Errorf("the texts of %s are %+v", number, book)
		}
	}
	h.closed = true
	if err := room.BeginAgain(ctx); err == nil {
		t.Error("records that stay as they are are not told")
	}
}

// A phone's card says what there is to do on the day that the calendar shows.
func TestAboutToday(t *testing.T) {
	h := newHamlet()
	plot := must(h.Plots(t.Context(), first))[0]
	next := must(plot.Season.Windows(plot.Season.Plot.Planted)).Next
	for _, c := range []struct {
		on   engine.Day
		want string
	}{
		{plot.Season.Plot.Planted, "nothing to do yet"}, {next.AskOn, "look at the weeds"}, {next.Best, "weed now"},
		{next.Closes, "the last days to weed"}, {next.Closes + 1, "the window is missed, pull big weeds by hand"},
		{plot.Season.Plot.Planted + 90, "the season is over"},
	} {
		if got := must(aboutToday([]Plot{plot}, c.on)); got != "Plot 1, <well>: "+c.want+"." {
			t.Errorf("on %s: %q, want %q", c.on, got, c.want)
		}
	}
	weeded := plot
	for n, times := range []string{"once", "twice", "3 times"} {
		on := must(weeded.Season.Windows(plot.Season.Plot.Planted)).Next.Best + engine.Day(14*n)
		weeded.Season.Passes = append(weeded.Season.Passes, engine.Pass{On: on, With: engine.ByTool, Left: engine.Few})
		if got := must(aboutToday([]Plot{weeded}, on)); !strings.Contains(got, "weeded "+times+": ") {
			t.Errorf("%q, want weeded %s", got, times)
		}
	}
}

func TestNewPhones(t *testing.T) {
	room, _, _ := newTestRoom(t)
	ctx := t.Context()
	seen := map[string]bool{first: true, second: true}
	for n := firstNew; n <= lastNew; n++ {
		p := must(room.NewPhone(ctx))
		if seen[p.Number] {
			t.Fatalf("%s was given out twice", p.Number)
		}
		seen[p.Number] = true
	}
	if _, err := room.NewPhone(ctx); err == nil {
		t.Error("there is no end of new phones")
	}
	if p, ok, _ := room.Phone(ctx, "3"); !ok || p.Number != fmt.Sprintf("+%d", firstNew) {
		t.Errorf("the third phone is %q", p.Number)
	}
	if _, ok, _ := room.Phone(ctx, "+447700900999"); ok {
		t.Error("a phone that nobody has was found")
	}
}
