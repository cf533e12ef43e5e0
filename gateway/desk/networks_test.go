package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// twoNetworks are a network that fails, and one that only brings calls.
type twoNetworks struct{ read []byte }

func (n *twoNetworks) Now() NetworksNow {
	return NetworksNow{Currency: "TAL", Limits: Budget{TextsADay: 500}, Counted: true,
		Waits: store.Waits{At: nine.Unix(), Texts: []store.WaitingTexts{{State: store.Queued, What: "again", Texts: 7,
			Oldest: nine.Add(-3 * time.Hour).Unix(), EndsFirst: nine.Add(25 * time.Minute).Unix()}}},
		List: []Network{
			{Name: "heron", Sends: true, To: "heron.example", Rate: 10, Concurrency: 4, PriceMicros: 40000, Once: true,
				Routes: []string{"+4477", ""}, Failed: 6, Paused: nine.Add(2 * time.Minute),
				TookAt: nine.Add(-time.Hour), Errors: []NetworkError{{nine, "it answers 503", 6}}},
			{Name: "kiln"},
		}}
}

func (n *twoNetworks) Read(_ context.Context, network, from string, recorded []byte) (string, error) {
	n.read = recorded
	if from != "" {
		return "read for " + network, errors.New("not all of it would be accepted")
	}
	return "  phone +4477…015 of " + network, nil
}

func officeWithNetworks(t *testing.T) (*office, *twoNetworks) {
	o, n := newOffice(t), &twoNetworks{}
	options := o.options()
	options.Networks = n
	o.d = must(New(options))
	return o, n
}

func TestNetworks(t *testing.T) {
	o, _ := officeWithNetworks(t)
	b := o.as("op")
	b.get("/desk/networks").has(t, 200, "Texts go out.", "heron", "paused for 2 minutes, after 6 failures in a row",
		"it answers 503", "0 of 500", "0.04 TAL", "4477, anything else", "brings calls and texts; sends none",
		"to be tried again texts 7 the oldest for 3 hours the first is of no use in 25 minutes",
		"known to this process", "No text is in doubt",
		"may not get a text twice")
	for what, n := range map[string]Network{
		"works":                    {Sends: true, TookAt: nine},
		"not used since the start": {Sends: true},
		"writes texts to the log; nothing is sent":       {Sends: true, ToLog: true},
		"tried again; 1 failure in a row":                {Sends: true, Failed: 1},
		"paused, and the next text tries it; 5 failures": {Sends: true, Failed: 5, Paused: nine},
	} {
		if got := n.State(nine); !strings.HasPrefix(got, what) {
			t.Errorf("%+v: %q, want %q", n, got, what)
		}
	}
}

// The stop switch needs a reason and a tick, and the trail says who used it.
func TestHoldTexts(t *testing.T) {
	o, _ := officeWithNetworks(t)
	b := o.as("op")
	held := func() (h store.SendingHold, on bool) {
		o.tx(func(tx *store.Tx) (err error) {
			h, on, err = tx.SendingHeld()
			return err
		})
		return h, on
	}
	for _, c := range []struct{ why, sure, mistake string }{
		{"", "yes", "Say why texts are held."},
		{"ask +447700900123", "yes", "A phone number does not belong into the log."},
		{strings.Repeat("x", store.MaxHoldReason+1), "yes", "This is longer than 200 characters."},
		{"flood", "", "nobody stops all texts by a slip"},
	} {
		b.post("/desk/networks/hold", "why", c.why, "sure", c.sure).has(t, http.StatusUnprocessableEntity, c.mistake)
		if _, on := held(); on {
			t.Fatalf("%+v: texts are held", c)
		}
	}
	b.post("/desk/networks/hold", "why", "flood in the valley", "sure", "yes").
		has(t, 200, "All texts are held", "flood in the valley", "Let the texts go")
	if h, on := held(); !on || h.Why != "flood in the valley" || h.Since != nine.Unix() {
		t.Errorf("held: %t %+v", on, h)
	}
	b.post("/desk/networks/release").has(t, 200, "Texts go out again")
	b.post("/desk/networks/release").has(t, 200, "Texts were not held")
	if _, on := held(); on {
		t.Error("texts are still held")
	}
	b.get("/desk/trail").has(t, 200, "held all texts: sending", "released all texts", "held: flood in the valley")
}

// doubtful makes texts of which nobody knows whether a network has them, and returns their ids.
func (o *office) doubtful(n int) (ids []int64) {
	o.t.Helper()
	now := nine.Unix()
	o.tx(func(tx *store.Tx) error {
		ids = nil
		for i := range n {
			if _, err := tx.Enqueue(store.Message{Key: fmt.Sprint("k", i), Note: "reply", Text: "hello",
				To: store.Phone(fmt.Sprint("+44", 7700900000+int64(i))), CreatedAt: now, DueAt: now,
				UsefulUntil: now + 3600}); err != nil {
				return err
			}
		}
		claims, err := tx.Claim(now, store.Claimant{Gateway: "heron", RoutePrefixes: []string{""}, Max: n,
			Lease: time.Minute, AtMostOnce: true, Segments: func(string) int { return 1 }})
		if err != nil {
			return err
		}
		for _, m := range claims.Texts {
			ids = append(ids, m.ID)
			if begins, err := tx.Begin(m, now); err != nil || !begins {
				return fmt.Errorf("text %d begins: %t, %w", m.ID, begins, err)
			}
			if err := tx.Settle(now, m.LostTrack("no answer within 10s")); err != nil {
				return err
			}
		}
		return nil
	})
	if len(ids) != n {
		o.t.Fatalf("%d texts in doubt, want %d", len(ids), n)
	}
	return ids
}

func (o *office) inDoubt() (n int64) {
	o.tx(func(tx *store.Tx) (err error) {
		n, err = tx.UndecidedCount(nine.Unix())
		return err
	})
	return n
}

func TestTextsInDoubt(t *testing.T) {
	o, _ := officeWithNetworks(t)
	ids := o.doubtful(5)
	b := o.as("op")
	b.get("/desk/networks").has(t, 200, "5 texts", "447700900000", "no answer within 10s", "All 5 at once")
	post := func(pairs ...string) page { return b.post("/desk/networks/doubt", pairs...) }
	post("id", fmt.Sprint(ids[0])).has(t, http.StatusUnprocessableEntity, "sent again or left")
	post("do", "again").has(t, http.StatusUnprocessableEntity, "Choose texts first")
	if n := o.inDoubt(); n != 5 {
		t.Fatalf("%d texts are in doubt after mistakes", n)
	}
	post("do", "again", "id", fmt.Sprint(ids[0])).has(t, 200, "1 text: to be sent again")
	post("do", "again", "id", fmt.Sprint(ids[0])).has(t, 200, "nothing was changed")
	post("do", "leave", "id", fmt.Sprint(ids[1])).has(t, 200, "1 text: left")
	if n := o.inDoubt(); n != 3 {
		t.Errorf("%d texts are in doubt, want 3", n)
	}
	post("do", "leave", "all", "yes").has(t, 200, "3 texts: left", "No text is in doubt")
	b.get("/desk/trail").has(t, 200, fmt.Sprintf("sent a text in doubt again: text %d (reply)", ids[0]),
		"left a text in doubt")
}

// A recorded request is pasted, or is in a file, of which each octet counts.
func TestReadRecorded(t *testing.T) {
	o, n := officeWithNetworks(t)
	b := o.as("op")
	send := func(file string, pairs ...string) page {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		for i := 0; i+1 < len(pairs); i += 2 {
			if err := w.WriteField(pairs[i], pairs[i+1]); err != nil {
				t.Fatal(err)
			}
		}
		part := must(w.CreateFormFile("file", "x.http"))
		_, _ = part.Write([]byte(file))
		_ = w.Close()
		r := httptest.NewRequest(http.MethodPost, "http://localhost/desk/networks/read", &body)
		r.Header.Set("Content-Type", w.FormDataContentType())
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		for _, c := range b.cookies {
			r.AddCookie(c)
		}
		rec := httptest.NewRecorder()
		o.d.ServeHTTP(rec, r)
		return page{rec.Code, rec.Body.String(), rec.Header()}
	}
	const request = "POST /in/heron/sms HTTP/1.1\nHost: x\n\ntext=1\n"
	send("", "network", "heron", "recorded", strings.ReplaceAll(request, "\n", "\r\n")).
		has(t, 200, "4477…015 of heron")
	if want := strings.TrimSuffix(request, "\n"); string(n.read) != want {
		t.Errorf("pasted: %q, want %q", n.read, want)
	}
	whole := strings.ReplaceAll(request, "\n", "\r\n")
	send(whole, "network", "kiln", "recorded", "", "from", "192.0.2.7").
		has(t, 200, "read for kiln", "not all of it would be accepted")
	if string(n.read) != whole {
		t.Errorf("a file: %q, want %q", n.read, whole)
	}
	send("", "network", "heron", "recorded", "").has(t, http.StatusUnprocessableEntity, "Paste a request")
	send("x", "network", "heron", "from", "here").has(t, http.StatusUnprocessableEntity, "no address such as")
	send(strings.Repeat("x", maxRecorded), "network", "heron").has(t, http.StatusRequestEntityTooLarge, "too long")
	if p := b.get("/desk/networks"); regexp.MustCompile(`(?i)secret=|token=`).MatchString(p.Body) {
		t.Error("the page shows a secret")
	}
}
