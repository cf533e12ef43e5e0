package store

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func codeOf(t *testing.T, s *Store, p Phone, at int64) (code string) {
	t.Helper()
	ledger(t, s, p, at, func(l *Ledger) (err error) {
		code, err = l.MoveCode()
		return err
	})
	return code
}

// take types a code on a phone.
func take(t *testing.T, s *Store, p Phone, at int64, code string) (ok bool, left int) {
	t.Helper()
	ledger(t, s, p, at, func(l *Ledger) (err error) {
		ok, left, err = l.TakeOver(code)
		if ok != l.Known() {
			t.Errorf("taken over: %v, known: %v", ok, l.Known())
		}
		return err
	})
	return ok, left
}

// not is a code that is not this one.
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
	if !regexp.MustCompile(`^\d{6}$`).MatchString(code) {
		t.Fatalf("code %q", code)
	}
	if ok, _ := take(t, s, cleo, noon+codeFor-1, code); !ok {
		t.Fatal("the code was not taken")
	}
	ledger(t, s, cleo, noon+day, func(l *Ledger) error {
		nos, err := l.Plots()
		if len(nos) != 1 || l.Language() != "en" {
			t.Errorf("plots %v in %q", nos, l.Language())
		}
		return err
	})
	if n := left(t, s, ana); n["grower"]+n["prompt"]+n["callback"]+n["message"] != 0 {
		t.Errorf("kept under the old number: %v", n)
	}
	if ok, _ := take(t, s, ben, noon+codeFor-1, code); ok {
		t.Error("the code worked twice")
	}
}

func TestCodeIsWorthNothing(t *testing.T) {
	for name, spoil := range map[string]func(t *testing.T, s *Store) int64{
		"after two hours":   func(*testing.T, *Store) int64 { return noon + 2*60*60 },
		"after another one": func(t *testing.T, s *Store) int64 { codeOf(t, s, ana, noon+1); return noon + 2 },
		"after the records were erased": func(t *testing.T, s *Store) int64 {
			ledger(t, s, ana, noon, (*Ledger).Erase)
			return noon
		},
		"after they were unlinked": func(t *testing.T, s *Store) int64 {
			ledger(t, s, ana, noon, (*Ledger).Unlink)
			return noon
		},
		"after staff moved them": func(t *testing.T, s *Store) int64 {
			write(t, s, func(tx *Tx) error { return second(tx.Move(1, ben, noon)) })
			return noon
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := drawing(t, []byte{0, 0, 1}, []byte{0, 0, 2})
			withPlot(t, s, ana)
			code := codeOf(t, s, ana, noon)
			at := spoil(t, s)
			if ok, left := take(t, s, cleo, at, code); ok || left != 4 {
				t.Errorf("taken %v, %d tries left", ok, left)
			}
		})
	}
}

func TestFiveWrongCodes(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	code := codeOf(t, s, ana, noon)
	for i, want := range []int{4, 3, 2, 1, 0} {
		if ok, left := take(t, s, cleo, noon+int64(i), not(code)); ok || left != want {
			t.Errorf("wrong code %d: %v, %d left, want %d", i+1, ok, left, want)
		}
	}
	wantNumber(t, s, 0, "SELECT count(*) FROM move_try WHERE hash = CAST($1 AS BLOB)", cleo.E164())
	last := noon + 4
	// Even the right code, until a day after the last try that counted.
	code = codeOf(t, s, ana, last+day-10)
	for _, at := range []int64{last + 1, last + day - 1} {
		if ok, left := take(t, s, cleo, at, code); ok || left != 0 {
			t.Errorf("after five wrong ones: %v, %d left", ok, left)
		}
	}
	// Another phone has tries of its own.
	if ok, left := take(t, s, ben, last, not(code)); ok || left != 4 {
		t.Errorf("another phone: %v, %d left", ok, left)
	}
	if ok, left := take(t, s, cleo, last+day, not(code)); ok || left != 4 {
		t.Errorf("a day later: %v, %d left", ok, left)
	}
	if ok, _ := take(t, s, cleo, last+day, code); !ok {
		t.Error("a day later the right code is not taken")
	}
}

// Whatever is typed and whenever, no phone has more than five wrong codes
// listened to within a day of the first of them.
func TestTriesAreBounded(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	phones := 0
	rapid.Check(t, func(rt *rapid.T) {
		phones++
		p := herdPhone(phones)
		at, heard := noon+int64(20*phones)*day, []int64{} // on days when nobody else tries
		for range rapid.IntRange(1, 15).Draw(rt, "tries") {
			at += rapid.Int64Range(0, day/2).Draw(rt, "wait")
			before := number(t, s, "SELECT coalesce(sum(wrong * 1000000 + until), 0) FROM move_try")
			if ok, _ := take(t, s, p, at, "no code"); ok {
				rt.Fatal("no code was taken")
			}
			if number(t, s, "SELECT coalesce(sum(wrong * 1000000 + until), 0) FROM move_try") != before {
				heard = append(heard, at)
			}
		}
		for i := wrongCodes; i < len(heard); i++ {
			if heard[i]-heard[i-wrongCodes] < wrongFor {
				rt.Fatalf("six tries at %v", heard)
			}
		}
	})
}

func TestTakeOverOnlyByAStranger(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	code := codeOf(t, s, ana, noon)
	err := s.InTx(context.Background(), func(tx *Tx) error {
		l, err := tx.Ledger(ben, noon)
		if err != nil {
			return err
		}
		_, _, err = l.TakeOver(code)
		return err
	})
	if !errors.Is(err, ErrTaken) {
		t.Errorf("a phone with records took others: %v", err)
	}
}

// A code undoes no stop, neither the grower's nor that of the phone on which it
// is typed. The phone that had the records is known to the transaction that
// took them, unless it wants no texts.
func TestTakeOverAndStops(t *testing.T) {
	for _, c := range []struct{ old, fresh bool }{{}, {old: true}, {fresh: true}, {true, true}} {
		s := open(t)
		id := ringing(t, s, ana)
		if c.fresh {
			ledger(t, s, cleo, noon, (*Ledger).Stop)
		}
		if c.old {
			ledger(t, s, ana, noon, (*Ledger).Stop)
		}
		code := codeOf(t, s, ana, noon)
		ledger(t, s, cleo, noon, func(l *Ledger) error {
			ok, _, err := l.TakeOver(code)
			want := ana
			if c.old {
				want = ""
			}
			if !ok || l.Former() != want {
				t.Errorf("%+v: taken %v, from %q, want %q", c, ok, l.Former().E164(), want.E164())
			}
			return err
		})
		ledger(t, s, cleo, noon, func(l *Ledger) error {
			if l.Stopped() != (c.old || c.fresh) || l.Former() != "" {
				t.Errorf("%+v: stopped %v, later from %v", c, l.Stopped(), l.Former())
			}
			return nil
		})
		if st := stateOf(t, s, id); (st == Withdrawn) != (c.old || c.fresh) {
			t.Errorf("%+v: the text is %s", c, st)
		}
		if n := number(t, s, "SELECT count(*) FROM grower WHERE stopped_at IS NOT NULL"); (n == 1) != (c.old || c.fresh) {
			t.Errorf("%+v: %d growers are stopped", c, n)
		}
	}
}

// On all phones together a hundred wrong codes a day are listened to (NIST SP
// 800-63B clause 5.2.2: no more than 100 failed tries), whatever numbers they
// are sent under; then even the right one is worth nothing until the next day.
func TestWrongCodesOfAllPhones(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	last := (day0+1).At(0, time.UTC).Unix() - 1
	code := codeOf(t, s, ana, last)
	for i := range 99 {
		if ok, left := take(t, s, herdPhone(i/wrongCodes), noon, not(code)); ok || left != wrongCodes-1-i%wrongCodes {
			t.Fatalf("wrong code %d: %v, %d left", i+1, ok, left)
		}
	}
	if ok, left := take(t, s, ben, noon, not(code)); ok || left != 0 {
		t.Errorf("the hundredth: %v, %d left", ok, left)
	}
	for _, p := range []Phone{ben, cleo} {
		if ok, left := take(t, s, p, last, code); ok || left != 0 {
			t.Errorf("the right one after a hundred: %v, %d left", ok, left)
		}
	}
	wantNumber(t, s, 100, "SELECT wrong FROM move_wrong")
	if ok, left := take(t, s, ben, last+1, not(code)); ok || left != 3 {
		t.Errorf("a wrong one on the next day: %v, %d left", ok, left)
	}
	if ok, _ := take(t, s, cleo, last+1, code); !ok {
		t.Error("the right one on the next day is not taken")
	}
}

func TestEraseForgetsWrongCodes(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	take(t, s, cleo, noon, "no code")
	withPlot(t, s, cleo)
	ledger(t, s, cleo, noon, (*Ledger).Erase)
	wantNumber(t, s, 0, "SELECT count(*) FROM move_try")
	wantNumber(t, s, 1, "SELECT wrong FROM move_wrong")
}

// drawing is a store whose codes come from these bytes, three each.
func drawing(t *testing.T, draws ...[]byte) *Store {
	t.Helper()
	var all io.Reader = bytes.NewReader(bytes.Join(draws, nil))
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "rowbell.db"), Options{Random: all})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// No two growers have the same code at a time, and one that is over is free.
func TestCodesAreDrawnUntilOneIsFree(t *testing.T) {
	one, two := []byte{0, 0, 1}, []byte{0, 0, 2}
	s := drawing(t, one, one, one, two, one)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	for i, c := range []struct {
		p    Phone
		at   int64
		want string
	}{{ana, noon, "000001"}, {ben, noon, "000002"}, {ben, noon + day, "000001"}} {
		if got := codeOf(t, s, c.p, c.at); got != c.want {
			t.Errorf("%d: code %s, want %s", i, got, c.want)
		}
	}
	err := s.InTx(context.Background(), func(tx *Tx) error {
		l, err := tx.Ledger(ana, noon+day)
		if err != nil {
			return err
		}
		return second(l.MoveCode())
	})
	if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("without chance: %v", err)
	}
	wantNumber(t, s, 2, "SELECT grower_id FROM move_code")
}

func TestCodesAndTriesArePruned(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	code := codeOf(t, s, ana, noon)
	take(t, s, cleo, noon, not(code))
	for _, c := range []struct{ at, want int64 }{{noon + codeFor, 0}, {noon + codeFor + 1, 1}, {noon + day, 1}, {noon + day + 1, 1}} {
		p, err := s.Prune(context.Background(), c.at)
		if err != nil || p.Codes != c.want {
			t.Errorf("after %d s: %d pruned (%v), want %d", c.at-noon, p.Codes, err, c.want)
		}
	}
}
