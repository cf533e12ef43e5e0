package gateway

import (
	"bytes"
	"slices"
	"strings"
	"time"
	"unicode"

	"rowbell/menu"
	"rowbell/store"
)

// Two machines that answer each other would never end: an automatic answer, a report in words on each of our texts, our
// own text that comes back. No list of their words is needed, because a machine is known by what it does: it
// repeats, it quotes, it answers at once, and nothing that it says answers what was asked. Such a text gets no answer.
// It is still read: a STOP counts at once, and an entry that the menu understands is never lost.

// Loops has the limits after which a number is left alone, which means that its texts get no answer for a while.
type Loops struct {
	Texts         int           // answers in a row to texts that were not understood; 0 = no limit
	AnswersAnHour int           // answers to one number in an hour; 0 = no limit
	Pause         time.Duration // how long the number is then left alone; each further pause in a row is twice as long
	Longest       time.Duration // the longest pause; at most a day, because an exchange is stored for a day
}

const (
	// A sentence has minSentence letters or more. Shorter texts, such as digits, people do send several times.
	minSentence = 4
	// A sentence that was not understood is answered maxSame times in a row; if it comes back within atOnce after our
	// text, once. Within atOnce nobody can get a text, read it and type a sentence (judgement).
	maxSame = 2
	atOnce  = 5 * time.Second
	// Registration by text takes at most nine equal digits in a row, so twelve understood texts that are equal are a
	// machine's (judgement).
	maxSameUnderstood = 12
	// sameFor is the longest time between two texts that count as the same text again.
	sameFor = time.Hour
	// A text is taken for one of ours that came back, whole or cut off, if this many characters are equal.
	minEcho = 20
	// A text quotes a number if it has this many digits of it: five of ours, eight of its own sender.
	minOwnQuoted, minQuoted = 5, 8
	// If the number is a part of a longer row of digits, such as a time and the number, this many digits are needed.
	minWithin = 9
)

// textJudge decides whether a text gets an answer.
type textJudge struct {
	store.Exchange
	loops    Loops
	now      int64
	sentence bool
	body     string // in lower case, with single spaces
	sent     []store.SentText
	paused   bool // a pause began with this text
}

// judge reads the exchange of a phone and counts this text in it. Its result decides whether the text gets an answer.
func (g *Gateway) judge(tx *store.Tx, c *call, phone store.Phone, body string) (*textJudge, error) {
	now := c.now.Unix()
	j := &textJudge{loops: g.o.Loops, now: now, body: plainWords(body)}
	var err error
	if j.Exchange, err = tx.Exchange(phone); err != nil {
		return nil, err
	}
	if j.sent, err = tx.LastTexts(phone, now-store.ExchangeRetention); err != nil {
		return nil, err
	}
	if j.At > now || now-j.At >= store.ExchangeRetention { // too long ago, or the clock was set back
		j.Exchange = store.Exchange{}
	}
	j.beginHour()
	words := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsMark(r) {
			return r
		}
		return -1
	}, j.body)
	if j.sentence = len([]rune(words)) >= minSentence; !j.sentence {
		words = j.body
	}
	// A counter or a time in a sentence does not make it another one.
	if mark := tx.Mark(words); !bytes.Equal(mark, j.Mark) || now-j.At > int64(sameFor/time.Second) {
		j.Mark, j.Same = mark, 0
	}
	j.Same++
	j.At = now
	return j, nil
}

// beginHour begins a new hour of answers if the present one is over, or the clock was set back.
func (j *textJudge) beginHour() {
	if j.HourAt > j.now || j.now-j.HourAt >= int64(time.Hour/time.Second) {
		j.HourAt, j.Answers = j.now, 0
	}
}

// last reports whether this text is the last one that is answered if it is not understood.
func (j *textJudge) last() bool { return j.loops.Texts > 0 && j.Fruitless+1 >= j.loops.Texts }

// verdict decides whether the menu's answer is sent, and counts the answer. It returns "" if the answer is sent,
// otherwise the reason why not, which is a label of the metrics.
func (j *textJudge) verdict(out menu.Outcome, quotes bool) (reason string) {
	onlyNotes := out.Reply == ""
	pausing := j.now < j.Until
	switch {
	case onlyNotes:
		return ""
	case out.Kind == "stop":
	case pausing && (j.Flooded || !out.Progress):
		return "paused"
	case j.loops.AnswersAnHour > 0 && j.Answers >= j.loops.AnswersAnHour,
		out.Progress && j.loops.Texts > 0 && j.Same > maxSameUnderstood:
		j.pause(true)
		return "paused"
	case out.Progress:
		if j.Fruitless, j.Until = 0, 0; !j.Flooded {
			j.Pauses = 0
		}
	case quotes:
		return "report"
	case j.sentence && (j.Same > maxSame || j.Same > 1 && j.atOnce()):
		return "repeat"
	default:
		if j.Fruitless++; j.loops.Texts > 0 && j.Fruitless >= j.loops.Texts {
			j.pause(false)
		}
	}
	j.Answers++
	return ""
}

// pause begins a pause, twice as long as the one before.
func (j *textJudge) pause(flooded bool) {
	length := j.loops.Pause
	for range min(j.Pauses, 20) {
		length = min(2*length, j.loops.Longest)
	}
	j.Pauses++
	j.Until, j.Flooded, j.paused = j.now+int64(length/time.Second), flooded, true
}

// atOnce reports whether the text came within seconds after a text of ours.
func (j *textJudge) atOnce() bool {
	return len(j.sent) > 0 && j.now-j.sent[0].At <= int64(atOnce/time.Second)
}

// unread returns the reason why the menu must not read a text, or "" if the menu may read it. The reasons are: echo (a
// text of ours came back); report (the text would count as a STOP only because it quotes words of ours, such as "Text
// STOP to end all texts").
func (j *textJudge) unread(stops func(string) bool) (reason string) {
	if j.echoes() {
		return "echo"
	}
	for _, s := range j.sent {
		if rest, quoted := withoutQuote(j.body, plainWords(s.Text)); quoted && stops(j.body) && !stops(rest) {
			return "report"
		}
	}
	return ""
}

// withoutQuote removes from s the part that is equal to the beginning of the text of. quoted is false if fewer than
// minEcho characters are equal; then rest is s.
func withoutQuote(s, of string) (rest string, quoted bool) {
	runes := []rune(of)
	if len(runes) < minEcho {
		return s, false
	}
	before, after, quoted := strings.Cut(s, string(runes[:minEcho]))
	if !quoted {
		return s, false
	}
	for _, r := range runes[minEcho:] {
		cut, same := strings.CutPrefix(after, string(r))
		if !same {
			break
		}
		after = cut
	}
	return before + " " + after, true
}

// echoes reports whether the text is one of ours that came back, whole or without its end. A part from the middle is
// read, because growers may type a whole choice of ours.
func (j *textJudge) echoes() bool {
	return len([]rune(j.body)) >= minEcho && slices.ContainsFunc(j.sent, func(s store.SentText) bool {
		return strings.HasPrefix(plainWords(s.Text), j.body)
	})
}

// quotes reports whether the text is likely a report on a text of ours: it contains the beginning of our text, or is a
// part of our text, or contains a number of ours or the phone's own number. It is false if we sent nothing lately, so
// that a stranger who mentions a number gets an answer.
func (j *textJudge) quotes(own ownNumbers, phone store.Phone) bool {
	if len(j.sent) == 0 || !j.sentence {
		return false
	}
	for _, s := range j.sent {
		ours := plainWords(s.Text)
		_, quoted := withoutQuote(j.body, ours)
		if quoted || len([]rune(j.body)) >= minEcho && strings.Contains(ours, j.body) {
			return true
		}
	}
	its := phone.E164()
	for _, n := range numbersIn(j.body) {
		switch local := strings.TrimLeft(n, "0"); {
		case len(n) >= minOwnQuoted && own[n], len(local) >= minQuoted && strings.HasSuffix(its, local),
			strings.Contains(n, its[max(0, len(its)-minWithin):]), own.within(n):
			return true
		}
	}
	return false
}

// numbersIn returns each number in a text as digits. Numbers with only separators between them are also returned joined
// into one.
func numbersIn(s string) (list []string) {
	joined, single := "", ""
	end := func(all bool) {
		if single != "" {
			list = append(list, single)
			joined += single
		}
		single = ""
		if all && joined != "" {
			list, joined = append(list, joined), ""
		}
	}
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			single += string(r)
		case strings.ContainsRune(separators, r):
			end(false)
		default:
			end(true)
		}
	}
	end(true)
	return list
}

// plainWords returns a text in lower case, with single spaces.
func plainWords(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }

// logVerdict counts a text that gets no answer, and logs the beginning of a pause. It is called after the commit,
// because a transaction may run again.
func (g *Gateway) logVerdict(t *inText) {
	if t.reason != "" {
		g.o.Meter.NotAnswered(t.network.Name, t.reason)
	}
	if t.judge != nil && t.judge.paused {
		g.o.Log.Warn().Str("request", t.id).Str("gateway", t.network.Name).Stringer("phone", t.phone).
			Int64("seconds", t.judge.Until-t.now.Unix()).Bool("flooded", t.judge.Flooded).
			Msg("a number is left alone for a while, because its texts look like a machine's: STOP and entries that " +
				"the menu understands still count; rowbell sending shows it, rowbell sending answer ends it")
	}
}
