package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// readers adds growers to a place, who read these languages in turn.
func (o *office) readers(place int64, first, n int, languages ...string) {
	o.t.Helper()
	name := map[int64]string{o.north: "north", o.south: "south"}[place]
	o.tx(func(tx *store.Tx) (err error) {
		for i := range n {
			l, failed := tx.Ledger(grower(first+i), nine.Unix())
			if err = errors.Join(err, failed); err != nil {
				return err
			}
			err = errors.Join(l.Consent(languages[i%len(languages)], "1", "ussd"), l.SetPlace(name))
		}
		return err
	})
}

func grower(i int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(i))) }

// writeOut puts the texts of letters in the outbox, as package letter does.
func (o *office) writeOut() (texts int64) {
	o.t.Helper()
	err := o.s.Background(context.Background(), func(tx *store.Tx) (bool, error) {
		parts, err := tx.DueLetters(o.clock.Now().Unix(), 1)
		if err != nil || len(parts) == 0 {
			return true, err
		}
		n, done, err := tx.WriteLetter(parts[0], o.clock.Now().Unix(), 7)
		tx.Kept(func() { texts += n })
		return done && n == 0 && len(parts) == 1 && o.over(tx), err
	})
	if err != nil {
		o.t.Fatal(err)
	}
	return texts
}

// over reports whether no letter can go on now.
func (o *office) over(tx *store.Tx) bool {
	parts, err := tx.DueLetters(o.clock.Now().Unix(), 1)
	return err == nil && len(parts) == 0
}

func (o *office) inbox(p store.Phone) (texts []string) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		list, err := tx.Inbox(p, 0)
		texts = nil
		for _, m := range list {
			texts = append(texts, m.Text)
		}
		return err
	})
	return texts
}

const (
	englishLetter = "A training with the rotary weeder on Friday at the school. Wear boots: the teeth are sharp."
	hindiLetter   = "शुक्रवार को स्कूल में प्रशिक्षण है।"
)

// letterForm returns the fields of a letter in two languages, and more.
func letterForm(more ...string) []string {
	return append([]string{"text-en", englishLetter, "text-hi", hindiLetter}, more...)
}

// A field worker chooses growers, writes in both of their languages, reads it again, types how many get it, and it goes
// out once to each. Growers of other places get nothing.
func TestLetterToMany(t *testing.T) {
	o := newOffice(t)
	o.readers(o.north, 100, 40, "en", "en", "hi")
	o.readers(o.south, 200, 3, "en")
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(grower(100), nine.Unix())
		return errors.Join(err, l.Stop())
	})
	b := o.as("field")
	b.get("/desk/letters").has(t, 200, "No letter was written yet", "Write a letter")
	b.get("/desk/letters/new").has(t, 200, "For whom")
	p := b.get("/desk/letters/new?chosen=yes")
	p.has(t, 200, "39 growers get it", "at north", "1: said STOP", "English: 26 growers", "13 growers",
		"Write no doses")
	p.hasNot(t, "south")
	p = b.post("/desk/letters/new", letterForm("do", "count")...)
	p.has(t, 200, "1 part in the 7-bit alphabet", "16-bit alphabet",
		"All together: 39 parts")
	b.post("/desk/letters/new", letterForm("do", "go")...).has(t, 200, "Send it?", "39 growers", englishLetter)
	b.post("/desk/letters", letterForm("confirm", "40")...).has(t, 422, "Type how many growers get it: 39.")
	b.post("/desk/letters", letterForm("confirm", "39")...).has(t, 200, "It goes out", "State: goes out")
	path := b.path
	if n := o.writeOut(); n != 39 {
		t.Errorf("%d texts", n)
	}
	b.get(path).has(t, 200, "State: written", "wait in the outbox 39", "Left out: 1", "said STOP")
	b.get("/desk/letters").has(t, 200, "39 of 39", "all growers, at north", "field")
	for i := range 40 {
		want := englishLetter
		if i%3 == 2 {
			want = hindiLetter
		}
		got := o.inbox(grower(100 + i))
		if i > 0 && (len(got) != 1 || got[0] != want) || i == 0 && len(got) > 0 {
			t.Errorf("grower %d got %q", i, got)
		}
	}
	if got := o.inbox(grower(200)); len(got) > 0 {
		t.Errorf("a grower of the south got %q", got)
	}
	b.post(path+"/stop").has(t, 200, "Texts that were withdrawn: 39", "stopped by field")
	b.get("/desk/trail").has(t, 200, "wrote a letter to 39, all growers, at north", "stopped a letter", hindiLetter)
	o.account("other", store.RoleFieldWorker, o.south)
	o.as("other").get(path).has(t, 404)
	o.as("other").get("/desk/letters").has(t, 200, "No letter was written yet")
	o.as("viewer").get("/desk/letters").has(t, 403)
}

// What is wrong in a letter is said where it is wrong, and nothing is sent.
func TestLetterMistakes(t *testing.T) {
	o := newOffice(t)
	o.readers(o.north, 100, 4, "en", "hi")
	b := o.as("field")
	for name, c := range map[string]struct {
		fields []string
		want   string
	}{
		"no text":              {[]string{"text-en", "hello"}, "write the text, or choose growers of another language"},
		"a placeholder":        {[]string{"text-en", "Dear {name}", "text-hi", hindiLetter}, "braces"},
		"four parts":           {letterForm("text-en", strings.Repeat("a", 460))[2:], "at most 3 parts"},
		"a place of others":    {letterForm("place", "south"), "Choose one of the places"},
		"a state of nobody":    {letterForm("state", "happy"), "Choose one of the states"},
		"a circle of letters":  {letterForm("circle", "abc"), "number of a circle"},
		"a silence of letters": {letterForm("silence", "long"), "number of days"},
		"nobody":               {letterForm("state", "window"), "Nobody would get this letter"},
		"at night":             {letterForm("begins", "2026-06-02", "hour", "21"), "Choose an hour from 7 to 19"},
		"before the morning":   {letterForm("begins", "2026-06-02", "hour", "6"), "Choose an hour from 7 to 19"},
		"yesterday":            {letterForm("begins", "2026-06-01", "hour", "9"), "Choose a day from 2 Jun 2026"},
		"in a year":            {letterForm("begins", "2027-06-01", "hour", "9"), "Choose a day from 2 Jun 2026"},
		"no day":               {letterForm("begins", "soon", "hour", "9"), "Choose a day from 2 Jun 2026"},
		"ends before": {letterForm("begins", "2026-06-04", "hour", "9", "until", "2026-06-03"),
			"from the first day"},
	} {
		b.post("/desk/letters/new", append(c.fields, "do", "go")...).has(t, 422, c.want)
		b.post("/desk/letters", append(c.fields, "confirm", "4")...).has(t, 422, c.want)
		if n := o.writeOut(); n > 0 {
			t.Errorf("%s: %d texts", name, n)
		}
	}
	o.clock.Set(nine.Add(12 * time.Hour))
	b = o.as("field")
	today := letterForm("begins", "2026-06-02", "hour", "9", "until", "2026-06-02", "do", "go")
	b.post("/desk/letters/new", today...).has(t, 422, "The last day is over")
	b.post("/desk/letters/new", letterForm("do", "go")...).has(t, 200, "From 3 Jun 2026, 7:00, to 5 Jun 2026, 20:00")
}

// A letter for a later day goes out on that day.
func TestLetterForLater(t *testing.T) {
	o := newOffice(t)
	o.readers(o.north, 100, 4, "en", "hi")
	b := o.as("field")
	tomorrow := letterForm("begins", "2026-06-03", "hour", "10", "until", "2026-06-03", "confirm", "4")
	b.post("/desk/letters", tomorrow...).has(t, 200, "State: waits for its day")
	for _, c := range []struct {
		after time.Duration
		want  int64
	}{{0, 0}, {24 * time.Hour, 0}, {25 * time.Hour, 4}} {
		o.clock.Set(nine.Add(c.after))
		if n := o.writeOut(); n != c.want {
			t.Errorf("after %v: %d texts", c.after, n)
		}
	}
}

// Staff send a letter to their own phone first. Without a phone, or after STOP from it, nothing goes out and it is said
// why.
func TestLetterToOneself(t *testing.T) {
	o := newOffice(t)
	o.readers(o.north, 100, 2, "en", "hi")
	b := o.as("field")
	test := []string{"text-en", englishLetter, "do", "test"}
	b.post("/desk/letters/new", test...).has(t, 200, "Your account has no phone", englishLetter)
	const own store.Phone = "+447700900999"
	o.tx(func(tx *store.Tx) error {
		list, err := tx.StaffList()
		for _, s := range list {
			if s.Name == "field" {
				s.Phone = own
				err = errors.Join(err, tx.SetStaff(s))
			}
		}
		return err
	})
	b.post("/desk/letters/new", "do", "test").has(t, 200, "write a text first")
	b.post("/desk/letters/new", test...).has(t, 200, "Sent to your phone in: en.", englishLetter)
	if got := o.inbox(own); len(got) != 1 || got[0] != englishLetter {
		t.Errorf("the own phone has %q", got)
	}
	b.get("/desk/trail").has(t, 200, "sent a letter to oneself")
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(own, nine.Unix())
		return errors.Join(err, l.Stop())
	})
	b.post("/desk/letters/new", test...).has(t, 200, "said STOP")
	if got := o.inbox(own); len(got) != 1 {
		t.Errorf("after STOP the own phone has %q", got)
	}
}

// The script asks for the length of one text, and gets the same words as the page has.
func TestPartsOfALetter(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	for typed, want := range map[string]string{
		"":                       "empty",
		"hello":                  "5 letters, 1 part in the 7-bit alphabet; room for 155 more in the last part",
		strings.Repeat("a", 161): "161 letters, 2 parts in the 7-bit alphabet; room for 145 more in the last part",
		strings.Repeat("क", 71):  "71 letters, 2 parts in the 16-bit alphabet; room for 63 more in the last part",
		"mão":                    "room for 67 more in the last part. These letters make it longer: ã",
		strings.Repeat("a", 460): "at most 3 parts may be sent",
		"two\r\nlines":           "9 letters, 1 part",
		strings.Repeat("€", 80):  "80 letters, 1 part in the 7-bit alphabet; room for 0 more in the last part",
	} {
		b.post("/desk/letters/new", "do", "parts", "text", typed).has(t, 200, want)
	}
}

// The price of a letter is a range if the networks have different prices.
func TestCostOfALetter(t *testing.T) {
	o := newOffice(t)
	for _, c := range []struct {
		prices []int64
		want   string
	}{{nil, ""}, {[]int64{0}, ""}, {[]int64{20_000}, "0.80 TAL"},
		{[]int64{0, 20_000, 30_000}, "0.80 TAL to 1.20 TAL, by the network"}} {
		options := o.options()
		options.SegmentPrices, options.Currency = c.prices, "TAL"
		if got := must(New(options)).cost(40); got != c.want {
			t.Errorf("%v: %q, want %q", c.prices, got, c.want)
		}
	}
}
