package store

import (
	"bytes"
	"fmt"
	"testing"
)

func exchangeOf(t tester, s *Store, p Phone) Exchange {
	t.Helper()
	return get(t, s, func(tx *Tx) (Exchange, error) { return tx.Exchange(p) })
}

func saveExchange(t tester, s *Store, p Phone, e Exchange) {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		e.Mark = tx.Mark("hello")
		return tx.SaveExchange(p, e)
	})
}

// An exchange is stored until a day after the last text, unless it is dropped earlier.
func TestExchange(t *testing.T) {
	s := open(t)
	equal(t, exchangeOf(t, s, ana), Exchange{}, "before the first text")
	for i := range 2 {
		want := Exchange{At: noon + int64(i), Same: 2, Fruitless: 3, HourAt: noon - 9, Answers: 4 + i, Pauses: 5,
			Until: noon + 600, Flooded: i == 0}
		saveExchange(t, s, ana, want)
		got := exchangeOf(t, s, ana)
		got.Mark = nil
		equal(t, got, want, "saved")
	}
	saveExchange(t, s, ben, Exchange{At: noon})
	equal(t, prune(t, s, noon+ExchangeRetention).Exchanges, 0, "pruned too early")
	equal(t, prune(t, s, noon+ExchangeRetention+1).Exchanges, 1, "pruned")
	equal(t, exchangeOf(t, s, ben), Exchange{}, "after its retention")
	for _, want := range []bool{true, false} {
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.DropExchange(ana) }), want, "dropped")
	}
	equal(t, exchangeOf(t, s, ana), Exchange{}, "dropped")
}

// Marks are equal for equal texts of one database. Another database has another key, so its marks differ.
func TestMark(t *testing.T) {
	mark := func(s *Store, text string) (m []byte) {
		write(t, s, func(tx *Tx) error { m = tx.Mark(text); return nil })
		return m
	}
	s := open(t)
	errorIf(t, !bytes.Equal(mark(s, "a"), mark(s, "a")), "the same text has two marks")
	errorIf(t, bytes.Equal(mark(s, "a"), mark(s, "b")), "two texts have the same mark")
	errorIf(t, bytes.Equal(mark(s, "a"), mark(open(t), "a")), "the marks of two databases are equal")
}

// Of the phones that are left alone, those whose pause ends last are listed, and all of them are counted.
func TestLeftAlone(t *testing.T) {
	s := open(t)
	for i := range 23 {
		saveExchange(t, s, Phone(fmt.Sprintf("+%d", 447700900100+int64(i))),
			Exchange{At: noon, Fruitless: i, Until: noon + int64(i), Flooded: i == 22})
	}
	var all int64
	list := get(t, s, func(tx *Tx) (list []LeftAlone, err error) {
		list, all, err = tx.LeftAlone(noon)
		return list, err
	})
	equal(t, all, 22, "left alone; the pause of the first phone is over")
	waits, err := s.CountWaits(ctx, noon)
	errorIf(t, waits.LeftAlone != 22 || err != nil, "in the counts: %d, %v", waits.LeftAlone, err)
	equal(t, len(list), 20, "listed")
	equal(t, list[0], LeftAlone{"+447700900122", noon + 22, 22, true}, "first")
	equal(t, list[19], LeftAlone{"+447700900103", noon + 3, 3, false}, "last")
}

// The last five texts to the phone are returned, the latest first, but only those since the instant.
func TestLastTexts(t *testing.T) {
	s := open(t)
	for i := range 7 {
		m := text(fmt.Sprint(i), ana, noon+int64(i))
		m.Text = fmt.Sprint("text ", i)
		enqueue(t, s, m)
		enqueue(t, s, text(fmt.Sprint("other ", i), ben, noon+int64(i)))
	}
	for since, want := range map[int64]int{0: 5, noon + 2: 5, noon + 3: 4, noon + 6: 1, noon + 7: 0} {
		list := get(t, s, func(tx *Tx) ([]SentText, error) { return tx.LastTexts(ana, since) })
		fatalIf(t, len(list) != want, "%d texts since %d, want %d", len(list), since, want)
		for i, m := range list {
			equal(t, m, SentText{fmt.Sprint("text ", 6-i), noon + int64(6-i)}, "since %d", since)
		}
	}
}

// A text counts from when a network accepted it, which may be later than when it was written.
func TestLastTextsCountFromAcceptance(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("a", ana, noon))
	settle(t, s, noon+90, claim(t, s, noon)[0].Took(""))
	list := get(t, s, func(tx *Tx) ([]SentText, error) { return tx.LastTexts(ana, noon+90) })
	equal(t, list, []SentText{{"hello", noon + 90}}, "accepted")
}
