package desk

import (
	"strings"
	"testing"
	"time"

	"rowbell/gateway/clock"
)

// slowClock passes a second whenever it is read, as if all work took that long.
type slowClock struct{ *clock.Manual }

func (c slowClock) Now() time.Time {
	c.Advance(time.Second)
	return c.Manual.Now()
}

// A count that takes longer than one request may goes on with the next ones. Nothing that was typed is lost meanwhile,
// nothing is sent, and the count is then used on.
func TestLetterIsCountedInSeveralRequests(t *testing.T) {
	o := newOffice(t)
	o.readers(o.north, 100, 4, "en")
	o.readers(o.south, 200, 3, "en")
	options := o.options()
	options.Clock = slowClock{o.clock}
	o.d = must(New(options))
	b := o.as("op")
	p := b.post("/desk/letters", letterForm("confirm", "7")...)
	p.has(t, 200, "Counted so far: 0 growers. What you wrote is kept.", "Count on") // there is nobody at "default"
	p.hasNot(t, "get it")
	if n := o.writeOut(); n > 0 {
		t.Errorf("%d texts", n)
	}
	count := letterForm("do", "count")
	for _, want := range []string{"so far: 4 growers", "so far: 4 growers", "so far: 7 growers"} {
		p := b.post("/desk/letters/new", count...)
		p.has(t, 200, want)
		if !strings.Contains(p.Body, `name="text-en" value="`+englishLetter) {
			t.Errorf("the text was lost in %s", p.Body)
		}
	}
	b.post("/desk/letters/new", count...).has(t, 200, "7 growers get it", englishLetter)
	o.readers(o.north, 300, 1, "en")
	b.post("/desk/letters/new", letterForm("do", "go")...).has(t, 200, "Send it?", "7 growers")
	for range 4 {
		b.get("/desk/letters/new?chosen=yes").has(t, 200, "Counted so far")
	}
	b.get("/desk/letters/new?chosen=yes").has(t, 200, "8 growers get it")
	o.clock.Advance(2 * countLasts)
	b.post("/desk/letters/new", count...).has(t, 200, "Counted so far: 0 growers")
}
