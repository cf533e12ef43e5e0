package gateway

import (
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

var loopsOfTest = Loops{Texts: 3, AnswersAnHour: 8, Pause: 10 * time.Minute, Longest: time.Hour}

// hears returns the verdicts on texts that come one after the other, each so many seconds after the one before and
// each another sentence. "+" is a text that was understood, "-" one that was not, "s" a STOP and "n" one to which the
// menu has no answer. The result has "a" for an answer, "p" for a pause.
func hears(j *textJudge, texts string, seconds int64) (verdicts string) {
	for i, kind := range texts {
		j.now += seconds
		j.beginHour()
		j.Same, j.sentence, j.paused = 1, true, false
		out := menu.Outcome{Kind: "reply", Reply: strings.Repeat("x", i+1), Progress: kind == '+' || kind == 's'}
		switch kind {
		case 's':
			out.Kind = "stop"
		case 'n':
			out.Reply = ""
		}
		if j.verdict(out, false) == "" {
			verdicts += "a"
		} else {
			verdicts += "p"
		}
	}
	return verdicts
}

// Texts that are understood begin the count anew and end a pause, unless the pause is because of too many texts. A STOP
// is answered in any pause.
func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		texts   string
		seconds int64
		want    string
	}{
		{"-----", 1, "aaapp"},
		{"--+--+---", 1000, "aaaaaaaaa"},
		{"---+---", 60, "aaaaaaa"},
		{"---n+", 60, "aaaaa"},
		{"---s-", 60, "aaaap"},
		{"++++++++++", 1, "aaaaaaaapp"},   // more than eight in an hour
		{"++++++++++s", 1, "aaaaaaaappa"}, // STOP
		{"--------", 601, "aaaapapp"},     // pauses of 10, 20 and 40 minutes begin at texts 3, 4 and 6
	} {
		j := &textJudge{loops: loopsOfTest, now: 1_000_000}
		if got := hears(j, c.texts, c.seconds); got != c.want {
			t.Errorf("%s every %d s: %s, want %s", c.texts, c.seconds, got, c.want)
		}
	}
	off := &textJudge{now: 1_000_000}
	if got := hears(off, strings.Repeat("-", 200), 1); strings.Contains(got, "p") {
		t.Errorf("without limits: %s", got)
	}
}

// Each pause in a row is twice as long, up to the longest.
func TestPausesGrow(t *testing.T) {
	j := &textJudge{loops: loopsOfTest, now: 1000}
	var minutes []int64
	for range 5 {
		j.pause(false)
		minutes = append(minutes, (j.Until-j.now)/60)
	}
	if want := []int64{10, 20, 40, 60, 60}; !slices.Equal(minutes, want) {
		t.Errorf("pauses of %d minutes, want %d", minutes, want)
	}
}

// A separator may be between two numbers or within one number. Any other character ends a number.
func TestNumbersIn(t *testing.T) {
	for s, want := range map[string]string{
		"": "", "no number": "", "to 12345: delivered": "12345", "1a22": "1 22",
		"at 10:05, +44 7700-900123.": "10 05 44 7700 900123 447700900123",
	} {
		got := numbersIn(s)
		for _, n := range strings.Fields(want) {
			if !slices.Contains(got, n) {
				t.Errorf("%q: %q lacks %s", s, got, n)
			}
		}
		if want == "" && len(got) > 0 {
			t.Errorf("%q: %q", s, got)
		}
	}
}

// A text is a report only after we sent something, and a number makes it one only if the number is ours or the phone's.
func TestQuotes(t *testing.T) {
	own := newOwnNumbers([]profile.Profile{{Sender: "12345", CountryCode: "44"}, {Sender: "07700900555"}}, "*123#")
	sent := []store.SentText{{Text: "Plot 1: weed now, by Thu 3 Dec."}}
	for body, want := range map[string]bool{
		"message to 12345 delivered": true, "message to 54321 delivered": false,
		"message to 07700 900123 delivered": true, "message to 07700 900124 delivered": false,
		"about +44 (7700) 900-123: failed": true, "see 900123": false, "12345": false,
		"10:05 07700 900123 0 failed": true, "10:05 07700 900555 failed": true, "10:05 07700 900556 failed": false,
		"failed: 'plot 1: weed now, by": true, "plot 1: weed later": false,
	} {
		j := &textJudge{body: body, sent: sent, sentence: strings.ContainsAny(body, "abcdefghij")}
		if got := j.quotes(own, "+447700900123"); got != want {
			t.Errorf("%q: %v", body, got)
		}
		if j.sent = nil; j.quotes(own, "+447700900123") {
			t.Errorf("%q quotes though nothing was sent", body)
		}
	}
}

func TestWithoutQuote(t *testing.T) {
	const ours = "no more texts from us. your plots stay."
	for s, want := range map[string]string{
		"stop": "stop", "no more texts": "no more texts", ours: "", "stop > " + ours: "stop >",
		"no more texts from us. you are right": "are right",
	} {
		got, quoted := withoutQuote(s, ours)
		if strings.TrimSpace(got) != want || quoted != (s != want) {
			t.Errorf("%q: %q, %v; want %q", s, got, quoted, want)
		}
	}
}

// A text of ours that came back is not read. If a grower types a whole choice of ours, it is read, and it counts as a
// quote only if the menu does not understand it.
func TestUnread(t *testing.T) {
	sent := []store.SentText{{Text: "Why too late?\n1 the tool was lent to others\n2 STOP the texts about this plot"}}
	stops := func(s string) bool { return strings.Contains(s, "stop") }
	for body, want := range map[string]string{
		"why too late? 1 the tool was lent": "echo", "the tool was lent to others": "", "why too late?": "",
		"sent: why too late? 1 the tool was lent to others 2 stop the texts": "report",
		"stop: why too late? 1 the tool was lent to others 2 stop the texts": "",
	} {
		j := &textJudge{body: body, sent: sent, sentence: true}
		if got := j.unread(stops); got != want {
			t.Errorf("%q: %q, want %q", body, got, want)
		}
		if quotes := body != "why too late?"; j.quotes(nil, "+447700900123") != quotes {
			t.Errorf("%q quotes: want %v", body, quotes)
		}
	}
}

// A sender is ours only if the whole number or the whole name is equal.
func TestOwnNumbers(t *testing.T) {
	own := newOwnNumbers([]profile.Profile{{Sender: "+447700900555", CountryCode: "44"}, {Sender: "Our Valley"}},
		"*123*4#")
	for sender, want := range map[string]bool{
		"+447700900555": true, "07700900555": true, "+447700900556": false, "900555": false,
		"our valley": true, "valley": false, "123": true, "1234": true, "12345": false, "": false, "+": false,
	} {
		if got := own.has(sender); got != want {
			t.Errorf("%q: %v", sender, got)
		}
	}
	// A number without its country code is ours in the country of its network only.
	own = newOwnNumbers([]profile.Profile{{Sender: "07700900555", CountryCode: "44"}, {CountryCode: "33"}}, "")
	for _, code := range []string{"44", "33"} {
		if got := own.has("+" + code + "7700900555"); got != (code == "44") {
			t.Errorf("with country code %s: %v", code, got)
		}
	}
}
