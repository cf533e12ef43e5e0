package store

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
)

var inBothLanguages = map[string]string{"en": "A training on Friday.", "hi": "शुक्रवार को प्रशिक्षण।"}

// aLetter is a letter to the growers of places, on day0 from 8 to 20 o'clock and on the day after.
func aLetter(places ...int64) Letter {
	return Letter{Who: "mira", Filter: LetterFilter{Places: places}, Words: inBothLanguages, Begins: day0,
		BeginsHour: 8, Until: day0 + 1, QuietHour: 20, Confirmed: 1000}
}

func addLetter(t tester, s *Store, l Letter) int64 {
	t.Helper()
	return get(t, s, func(tx *Tx) (int64, error) { return tx.AddLetter(l, noon) })
}

// writeLetters writes letters until nothing more can be written now, and returns how many texts that were.
func writeLetters(t tester, s *Store, now int64, atOnce int) (all int64) {
	t.Helper()
	for {
		parts := get(t, s, func(tx *Tx) ([]LetterPart, error) { return tx.DueLetters(now, 10) })
		goesOn := false
		for _, p := range parts {
			write(t, s, func(tx *Tx) error {
				n, done, err := tx.WriteLetter(p, now, atOnce)
				all, goesOn = all+n, goesOn || !done
				return err
			})
		}
		if !goesOn {
			return all
		}
	}
}

// countLetter counts for whom a letter would be.
func countLetter(t tester, s *Store, f LetterFilter, now int64) (c LetterCount) {
	t.Helper()
	for !c.Done {
		c = get(t, s, func(tx *Tx) (LetterCount, error) { return tx.CountLetter(c, f, now) })
	}
	return c
}

func letter(t tester, s *Store, id int64) Letter {
	t.Helper()
	l, there := lookUp(t, s, func(tx *Tx) (Letter, bool, error) { return tx.LetterByID(id) })
	fatalIf(t, !there, "there is no letter %d", id)
	return l
}

func speaks(t tester, s *Store, language string, phones ...Phone) {
	t.Helper()
	for _, p := range phones {
		ledger(t, s, p, noon, func(l *Ledger) error { return l.SetLanguage(language) })
	}
}

const inOutbox = "SELECT count(*) FROM message WHERE letter_id IS NOT NULL"

// Each grower who may get the letter gets it once, in the own language; the others are counted by the reason.
func TestLetter(t *testing.T) {
	s := open(t)
	var phones []Phone
	for i := range 10 {
		phones = append(phones, numbered(i))
	}
	withPlot(t, s, phones...)
	north := number(t, s, "SELECT place_id FROM grower LIMIT 1")
	south := anotherPlace(t, s, "south", "Asia/Manila", phones[9])
	speaks(t, s, "hi", phones[1], phones[2])
	speaks(t, s, "sw", phones[3])
	ledger(t, s, phones[4], noon, (*Ledger).Stop)
	ledger(t, s, phones[5], noon, (*Ledger).Unlink)
	execSQL(t, s, "UPDATE grower SET unreachable_at = 1 WHERE phone = $1", phones[6].E164())
	execSQL(t, s, "UPDATE grower SET seen_at = $1 WHERE phone = $2", noon-SilentAfter, phones[7].E164())
	l := aLetter(north)
	counted := countLetter(t, s, l.Filter, noon)
	equal(t, counted.ByLanguage, map[string]int64{"en": 2, "hi": 2, "sw": 1}, "who get it")
	equal(t, counted.LeftOut, map[LeftOut]int64{LeftStopped: 1, LeftNoNumber: 1, LeftUnreachable: 1, LeftSilent: 1},
		"who are left out")
	equal(t, counted.Looked(), 9, "looked at")
	id := addLetter(t, s, l)
	withPlot(t, s, numbered(11)) // joins after the letter was confirmed
	equal(t, writeLetters(t, s, noon, 3), 4, "texts")
	got := letter(t, s, id)
	equal(t, got.LeftOut, map[LeftOut]int64{LeftStopped: 1, LeftNoNumber: 1, LeftUnreachable: 1, LeftSilent: 1,
		LeftNoWords: 1}, "left out")
	errorIf(t, got.Written != 4 || got.EndedAt != noon || got.Filter.Places[0] != north, "%+v", got)
	for p, want := range map[Phone]string{phones[0]: "en", phones[1]: "hi", phones[2]: "hi", phones[8]: "en"} {
		texts := get(t, s, func(tx *Tx) ([]Message, error) { return tx.Inbox(p, 0) })
		fatalIf(t, len(texts) != 1, "%v has %d texts", p, len(texts))
		m := texts[0]
		errorIf(t, m.Text != inBothLanguages[want] || m.Note != LetterNote || m.DueAt != noon ||
			m.UsefulUntil != (day0+1).At(20, time.UTC).Unix()-1, "%+v", m)
	}
	equal(t, writeLetters(t, s, noon+60, 3), 0, "texts when it is over")
	list := get(t, s, func(tx *Tx) ([]Letter, error) { return tx.Letters(Scope{north}, 0, 10) })
	errorIf(t, len(list) != 1, "%d letters of the north", len(list))
	addLetter(t, s, aLetter(north, south))
	for _, c := range []struct {
		scope  Scope
		before int64
		want   int
	}{{Scope{north}, 0, 1}, {Scope{south}, 0, 0}, {Scope{north, south}, 0, 2}, {Scope{north, south}, id + 1, 1},
		{nil, 0, 0}} {
		list := get(t, s, func(tx *Tx) ([]Letter, error) { return tx.Letters(c.scope, c.before, 10) })
		equal(t, len(list), c.want, "letters before %d of %v", c.before, c.scope)
	}
}

// The filter chooses by language, state, circle and silence.
func TestLetterFilter(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	speaks(t, s, "hi", ben)
	ledger(t, s, cleo, noon, closePlot(1))
	execSQL(t, s, "UPDATE grower SET seen_at = $1 WHERE phone = $2", noon-40*day, ana.E164())
	here := number(t, s, "SELECT place_id FROM grower LIMIT 1")
	for name, c := range map[string]struct {
		f    LetterFilter
		want int64
	}{
		"all":                 {LetterFilter{}, 3},
		"a language":          {LetterFilter{Language: "hi"}, 1},
		"no plot":             {LetterFilter{State: StateNoPlot}, 1},
		"no window is open":   {LetterFilter{State: StateWindow}, 0},
		"silent for 40 days":  {LetterFilter{NotHeardOf: 40}, 1},
		"silent for 41 days":  {LetterFilter{NotHeardOf: 41}, 0},
		"of a circle":         {LetterFilter{Circle: 1234}, 0},
		"in any circle":       {LetterFilter{InCircle: true}, 0},
		"stopped get nothing": {LetterFilter{State: StateStopped}, 0},
	} {
		c.f.Places = Scope{here}
		counted := countLetter(t, s, c.f, noon)
		equal(t, counted.All(), c.want, "%s", name)
		l := aLetter(here)
		l.Filter = c.f
		id := addLetter(t, s, l)
		equal(t, writeLetters(t, s, noon, 2), c.want, "%s: texts", name)
		execSQL(t, s, "DELETE FROM message WHERE letter_id = $1", id)
	}
}

// A grower gets one letter a day, and with the reminders no more texts in seven days than the bell sends about a plot.
func TestLetterCaps(t *testing.T) {
	s := openWithPlot(t, ana)
	here := number(t, s, "SELECT place_id FROM grower")
	plot := number(t, s, "SELECT id FROM plot")
	send := func(now int64) (LeftOut, int64) {
		l := aLetter(here)
		l.Begins, l.Until = day0-1, day0+30
		id := addLetter(t, s, l)
		n := writeLetters(t, s, now, 5)
		for r, some := range letter(t, s, id).LeftOut {
			if some > 0 {
				return r, id
			}
		}
		errorIf(t, n != 1, "%d texts", n)
		return LeftNone, id
	}
	want := func(now int64, want LeftOut) (id int64) {
		t.Helper()
		got, id := send(now)
		equal(t, got, want, "at %v", time.Unix(now, 0).UTC())
		return id
	}
	first := want(noon, LeftNone)
	want(noon+3600, LeftLetterToday)
	write(t, s, func(tx *Tx) error { _, _, err := tx.StopLetter(first, "mira", noon); return err })
	want(noon+7200, LeftNone) // the first was withdrawn, so it was no text
	want(noon+day, LeftNone)
	write(t, s, func(tx *Tx) error {
		_, err := tx.Tell(plot, engine.Told{Window: 1, Kind: engine.KindOpen, On: day0 + 2})
		return err
	})
	want(noon+2*day, LeftWeek)
	want(noon+6*day, LeftWeek)
	want(noon+7*day, LeftNone)
}

// No more growers get a letter than were confirmed.
func TestLetterGoesToNoMoreThanConfirmed(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	l := aLetter(number(t, s, "SELECT place_id FROM grower LIMIT 1"))
	l.Confirmed = 2
	id := addLetter(t, s, l)
	equal(t, writeLetters(t, s, noon, 1), 2, "texts")
	equal(t, letter(t, s, id).LeftOut, map[LeftOut]int64{LeftBeyond: 1}, "left out")
}

// A letter begins at its hour, rests in the quiet hours of each place, and ends with its last day.
func TestLetterKeepsQuietHours(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	here := number(t, s, "SELECT place_id FROM grower LIMIT 1")
	manila := anotherPlace(t, s, "south", "Asia/Manila", ben) // eight hours before UTC
	at := func(day engine.Day, hour int) int64 { return day.At(hour, time.UTC).Unix() }
	l := aLetter(here, manila)
	l.Begins, l.BeginsHour = day0+1, 9
	id := addLetter(t, s, l)
	for _, c := range []struct{ now, want int64 }{{at(day0+1, 1) - 1, 0}, {at(day0+1, 1), 1}, {at(day0+1, 9) - 1, 0},
		{at(day0+1, 21), 0}} {
		equal(t, writeLetters(t, s, c.now, 5), c.want, "texts at %v", time.Unix(c.now, 0).UTC())
	}
	got := letter(t, s, id)
	errorIf(t, got.EndedAt != at(day0+1, 21) || got.Written != 1, "at the end of the last day: %+v", got)

	execSQL(t, s, "DELETE FROM message")
	l.Begins, l.Until = day0+2, day0+9
	l.BeginsHour = 8
	addLetter(t, s, l)
	equal(t, writeLetters(t, s, at(day0+2, 22), 5), 0, "texts at night")
	equal(t, writeLetters(t, s, at(day0+3, 7), 5), 2, "texts in the morning")
	// Texts that wait when the night comes are sent in the morning.
	equal(t, suppress(t, s, at(day0+3, 21), 10), 2, "put off")
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE claim_at = $1", at(day0+4, 7))
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE claim_at = $1", at(day0+3, 23)) // 7 o'clock in Manila
	keys, _ := handOver(t, s, at(day0+3, 21), local(9))
	errorIf(t, len(keys) > 0, "claimed at night: %v", keys)
	keys, _ = handOver(t, s, at(day0+4, 7), local(9))
	errorIf(t, len(keys) != 2, "claimed in the morning: %v", keys)
}

// Who says STOP while a letter goes out gets it no more, and a letter that is stopped sends what a network has, and no
// more. Texts of letters come after answers.
func TestLetterIsStopped(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	id := addLetter(t, s, aLetter(number(t, s, "SELECT place_id FROM grower LIMIT 1")))
	writeLetters(t, s, noon, 5)
	ledger(t, s, ana, noon, (*Ledger).Stop)
	answer := enqueue(t, s, text("an answer", cleo, noon))
	_, list := handOver(t, s, noon, local(2)) // the answer, and the letter to ben
	fatalIf(t, len(list) != 2 || list[0].ID != answer || list[1].To != ben, "claimed %+v", list)
	write(t, s, func(tx *Tx) error {
		n, stopped, err := tx.StopLetter(id, "ravi", noon+1)
		errorIf(t, n != 1 || !stopped, "withdrawn %d, %v", n, stopped)
		return err
	})
	write(t, s, func(tx *Tx) error {
		_, stopped, err := tx.StopLetter(id, "mira", noon+1)
		errorIf(t, stopped, "stopped twice")
		return err
	})
	settle(t, s, noon+2, list[1].Took("n1"))
	states := get(t, s, func(tx *Tx) (map[State]int64, error) { return tx.LetterStates(id) })
	equal(t, states, map[State]int64{Withdrawn: 2, Accepted: 1}, "states")
	got := letter(t, s, id)
	errorIf(t, got.StoppedBy != "ravi" || got.EndedAt == 0, "%+v", got)
	equal(t, writeLetters(t, s, noon+60, 5), 0, "texts after it was stopped")
}

// While many texts of a letter wait, no more are written.
func TestLetterWaitsForTheOutbox(t *testing.T) {
	s := open(t)
	const growers = LetterWaits + 40
	write(t, s, func(tx *Tx) error {
		var errs error
		for i := range growers {
			errs = errors.Join(errs, second(tx.exec(`INSERT INTO grower (phone, language, place_id, consent_at,
				consent_text, consent_channel, created_at, seen_at) SELECT $1, 'en', id, 1, '', '', 1, $2 FROM place`,
				fmt.Sprintf("+4477009%05d", i), noon)))
		}
		return errs
	})
	addLetter(t, s, aLetter(number(t, s, "SELECT id FROM place")))
	written := writeLetters(t, s, noon, 16)
	errorIf(t, written < LetterWaits || written > LetterWaits+15, "%d texts wait", written)
	execSQL(t, s, "UPDATE message SET state = 'accepted', accepted_at = 1, claim_at = NULL")
	equal(t, written+writeLetters(t, s, noon, 16), growers, "texts")
}

// However the work is broken off, each grower gets the letter once, and all are counted.
func TestLetterSurvivesEveryBreak(t *testing.T) {
	s := open(t)
	var phones []Phone
	for i := range 23 {
		phones = append(phones, numbered(i))
	}
	withPlot(t, s, phones...)
	here := number(t, s, "SELECT place_id FROM grower LIMIT 1")
	killed := errors.New("killed")
	rapid.Check(t, func(t *rapid.T) {
		execSQL(t, s, "DELETE FROM message")
		execSQL(t, s, "DELETE FROM letter")
		execSQL(t, s, "UPDATE grower SET stopped_at = NULL")
		for i, p := range phones {
			if rapid.IntRange(0, 5).Draw(t, fmt.Sprint("stopped ", i)) == 0 {
				execSQL(t, s, "UPDATE grower SET stopped_at = 1 WHERE phone = $1", p.E164())
			}
		}
		willing := number(t, s, "SELECT count(*) FROM grower WHERE stopped_at IS NULL")
		id := addLetter(t, s, aLetter(here))
		for step := 0; letter(t, s, id).EndedAt == 0; step++ {
			fatalIf(t, step > 200, "it does not end")
			err := s.InTx(ctx, func(tx *Tx) error {
				atOnce := rapid.IntRange(1, 9).Draw(t, "at once")
				_, _, err := tx.WriteLetter(LetterPart{id, here}, noon, atOnce)
				if err == nil && rapid.Bool().Draw(t, "killed") {
					err = killed
				}
				return err
			})
			errorIf(t, err != nil && !errors.Is(err, killed), "%v", err)
		}
		l := letter(t, s, id)
		wantNumber(t, s, willing, inOutbox)
		wantNumber(t, s, willing, "SELECT count(DISTINCT grower_id) FROM message")
		errorIf(t, l.Written != willing || l.LeftOut[LeftStopped] != int64(len(phones))-willing, "%+v", l)
	})
}

// A restored letter does not go on: nobody knows who got it after the backup.
func TestRestoreStopsLetters(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana, ben)
	id := addLetter(t, s, aLetter(number(t, s, "SELECT place_id FROM grower LIMIT 1")))
	backup := backupOf(t, s)
	to := shut(t, s)
	restoreTo(t, backup, to)
	s = openAt(t, to)
	equal(t, writeLetters(t, s, noon, 5), 0, "texts")
	got := letter(t, s, id)
	errorIf(t, got.EndedAt == 0 || got.StoppedBy != "a restore", "%+v", got)
}

func TestOldLettersArePruned(t *testing.T) {
	s := openWithPlot(t, ana)
	addLetter(t, s, aLetter(number(t, s, "SELECT place_id FROM grower")))
	writeLetters(t, s, noon, 5)
	for _, c := range []struct{ after, want int64 }{{0, 1}, {1, 0}} {
		ok(t, second(s.Prune(ctx, noon+trailRetention+c.after)))
		wantRows(t, s, map[string]int64{"letter": c.want, "letter_place": c.want})
	}
}

func TestAddLetterRefusesWhatCannotBeSent(t *testing.T) {
	s := open(t)
	here := number(t, s, "SELECT id FROM place")
	for name, change := range map[string]func(*Letter){
		"no words":             func(l *Letter) { l.Words = nil },
		"an empty text":        func(l *Letter) { l.Words = map[string]string{"en": ""} },
		"no place":             func(l *Letter) { l.Filter.Places = nil },
		"ends before it begin": func(l *Letter) { l.Until = l.Begins - 1 },
		"begins at night":      func(l *Letter) { l.Until, l.BeginsHour = l.Begins, 20 },
	} {
		l := aLetter(here)
		change(&l)
		err := s.InTx(ctx, func(tx *Tx) error { return second(tx.AddLetter(l, noon)) })
		errorIf(t, err == nil, "%s: taken", name)
	}
	wantRows(t, s, map[string]int64{"letter": 0})
}
