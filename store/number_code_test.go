package store

import (
	"bytes"
	"errors"
	"io"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func codeOf(t tester, s *Store, p Phone, at int64) (code string) {
	t.Helper()
	ledger(t, s, p, at, func(l *Ledger) (err error) { code, err = l.MoveCode(); return err })
	return code
}

// wantTake types a code on a phone. wantLeft is how many wrong codes the phone may type after that; -1 means that the
// code must be accepted.
func wantTake(t tester, s *Store, p Phone, at int64, code string, wantLeft int) {
	t.Helper()
	ledger(t, s, p, at, func(l *Ledger) error {
		ok, left, err := l.TakeOver(code)
		errorIf(t, ok != l.Known() || ok != (wantLeft < 0) || !ok && left != wantLeft,
			"%v at noon%+d: taken %v, records %v, %d tries left, want %d", p, at-noon, ok, l.Known(), left, wantLeft)
		return err
	})
}

// not returns a code that differs from the given code.
func not(code string) string {
	if code == "111111" {
		return "222222"
	}
	return "111111"
}

func TestCodeMovesTheRecordsOnce(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	code := codeOf(t, s, ana, noon)
	fatalIf(t, !regexp.MustCompile(`^\d{6}$`).MatchString(code), "code %q", code)
	wantTake(t, s, cleo, noon+codeFor-1, code, -1)
	wantLeft(t, s, ana, 0, 1, 0, 0, 0)
	wantLeft(t, s, cleo, 1, 0, 1, 0, 1)
	wantTake(t, s, ben, noon+codeFor-1, code, 4)
}

func TestCodeIsInvalid(t *testing.T) {
	for name, c := range map[string]struct {
		do func(*Ledger) error // runs at noon
		at int64
	}{
		"after two hours":                 {nil, noon + 2*60*60},
		"after another one":               {func(l *Ledger) error { return second(l.MoveCode()) }, noon + 2},
		"after an erasure":                {(*Ledger).Erase, noon},
		"after the records were unlinked": {(*Ledger).Unlink, noon},
		"after staff moved the records":   {func(l *Ledger) error { return second(l.tx.Move(1, ben, noon)) }, noon},
	} {
		t.Run(name, func(t *testing.T) {
			s := drawing(t, []byte{0, 0, 1}, []byte{0, 0, 2})
			withPlot(t, s, ana)
			code := codeOf(t, s, ana, noon)
			if c.do != nil {
				ledger(t, s, ana, noon, c.do)
			}
			wantTake(t, s, cleo, c.at, code, 4)
		})
	}
}

// After five wrong codes, that phone is refused, even with the right code, until a day after the last wrong code.
// Wrong codes from another phone are counted separately.
func TestFiveWrongCodes(t *testing.T) {
	s := openWithPlot(t, ana)
	code := codeOf(t, s, ana, noon)
	for i, left := range []int{4, 3, 2, 1, 0} {
		wantTake(t, s, cleo, noon+int64(i), not(code), left)
	}
	wantNumber(t, s, 0, "SELECT count(*) FROM move_try WHERE hash = $1", []byte(cleo.E164()))
	last := noon + 4
	code = codeOf(t, s, ana, last+day-10)
	wantTake(t, s, cleo, last+1, code, 0)
	wantTake(t, s, cleo, last+day-1, code, 0)
	wantTake(t, s, ben, last, not(code), 4)
	wantTake(t, s, cleo, last+day, not(code), 4)
	wantTake(t, s, cleo, last+day, code, -1)
}

// From one phone, at most five wrong codes are accepted as tries within any 24 hours, no matter when they are typed.
func TestTriesAreBounded(t *testing.T) {
	s := openWithPlot(t, ana)
	phones := 0
	rapid.Check(t, func(rt *rapid.T) {
		phones++
		p := phoneOf(phones)
		// Each phone types its codes on other days, so that the daily limit of all phones together is never reached.
		at, heard := noon+int64(20*phones)*day, []int64{}
		for range rapid.IntRange(1, 15).Draw(rt, "tries") {
			at += rapid.Int64Range(0, day/2).Draw(rt, "wait")
			const tries = "SELECT coalesce(sum(wrong * 1000000 + until), 0) FROM move_try"
			before := number(rt, s, tries)
			ledger(rt, s, p, at, func(l *Ledger) error {
				ok, _, err := l.TakeOver("no code")
				errorIf(rt, ok, "a wrong code was taken")
				return err
			})
			if number(rt, s, tries) != before {
				heard = append(heard, at)
			}
		}
		for i := wrongCodes; i < len(heard); i++ {
			fatalIf(rt, heard[i]-heard[i-wrongCodes] < wrongFor, "six tries at %v", heard)
		}
	})
}

// Wrong codes from all phones together are limited to a hundred a day (NIST SP 800-63B clause 5.2.2 allows at most 100
// failed tries). After that, even the right code is refused until the next day.
func TestWrongCodesOfAllPhones(t *testing.T) {
	s := openWithPlot(t, ana)
	last := (day0+1).At(0, time.UTC).Unix() - 1
	code := codeOf(t, s, ana, last)
	wantBlocked := func(at int64, want bool) {
		t.Helper()
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.CodesBlocked(at) }), want,
			"blocked at noon%+d", at-noon)
	}
	for i := range 99 {
		wantTake(t, s, phoneOf(i/wrongCodes), noon, not(code), wrongCodes-1-i%wrongCodes)
	}
	wantBlocked(noon, false)
	wantTake(t, s, ben, noon, not(code), 0)
	wantBlocked(last, true)
	wantTake(t, s, ben, last, code, 0)
	wantTake(t, s, cleo, last, code, 0)
	wantNumber(t, s, 100, "SELECT wrong FROM move_wrong")
	wantBlocked(last+1, false)
	wantTake(t, s, ben, last+1, not(code), 3)
	wantTake(t, s, cleo, last+1, code, -1)
}

// drawing opens a store that takes its codes from the given bytes, three for each code, instead of random ones.
func drawing(t *testing.T, draws ...[]byte) *Store {
	t.Helper()
	return openWith(t, filepath.Join(t.TempDir(), "rowbell.db"),
		Options{Random: bytes.NewReader(bytes.Join(draws, nil))})
}

// Two growers never have the same code at the same time. An expired code may be drawn again.
func TestCodesAreDrawnUntilOneIsFree(t *testing.T) {
	one, two := []byte{0, 0, 1}, []byte{0, 0, 2}
	s := drawing(t, one, one, one, two, one)
	withPlot(t, s, ana, ben)
	for i, c := range []struct {
		p    Phone
		at   int64
		want string
	}{{ana, noon, "000001"}, {ben, noon, "000002"}, {ben, noon + day, "000001"}} {
		equal(t, codeOf(t, s, c.p, c.at), c.want, "%d: code", i)
	}
	err := try(s, ana, noon+day, func(l *Ledger) error { return second(l.MoveCode()) })
	errorIf(t, !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF), "without a source of codes: %v", err)
	wantNumber(t, s, 2, "SELECT grower_id FROM move_code")
}

func TestCodesAndTriesArePruned(t *testing.T) {
	s := openWithPlot(t, ana)
	wantTake(t, s, cleo, noon, not(codeOf(t, s, ana, noon)), 4)
	for _, c := range []struct{ at, want int64 }{{codeFor, 0}, {codeFor + 1, 1}, {day, 1}, {day + 1, 1}} {
		p := prune(t, s, noon+c.at)
		errorIf(t, p.Codes != c.want, "after %d s: %d pruned, want %d", c.at, p.Codes, c.want)
	}
}
