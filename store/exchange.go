package store

import "slices"

// Exchange is how the texts of one phone and the answers to them went lately.
type Exchange struct {
	At        int64  // when the phone's last text came, in Unix seconds; 0 if none came lately
	Mark      []byte // mark of that text, see Tx.Mark
	Same      int    // how many texts in a row had this mark
	Fruitless int    // answers in a row to texts that were not understood
	HourAt    int64  // when the hour began in which Answers are counted
	Answers   int    // answers since HourAt
	Pauses    int    // how many times in a row the phone was left alone: its texts got no answers for a while
	Until     int64  // until when the phone is left alone; 0: it is answered
	// Flooded is set if the phone is left alone because it sent too many texts, and not because they were not
	// understood. Then a text that is understood does not end the pause.
	Flooded bool
}

// ExchangeRetention is how long an exchange is stored after the phone's last text, in seconds. No pause is longer.
const ExchangeRetention = secondsADay

const (
	sqlExchange = `SELECT at, mark, same, fruitless, hour_at, answers, pauses, until, flooded FROM exchange
	WHERE phone = $1`
	sqlSaveExchange = `INSERT INTO exchange
		(phone, at, mark, same, fruitless, hour_at, answers, pauses, until, flooded)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
	ON CONFLICT (phone) DO UPDATE SET at = excluded.at, mark = excluded.mark, same = excluded.same,
		fruitless = excluded.fruitless, hour_at = excluded.hour_at, answers = excluded.answers,
		pauses = excluded.pauses, until = excluded.until, flooded = excluded.flooded`
	sqlDropExchange = `DELETE FROM exchange WHERE phone = $1`
	sqlLastTexts    = `SELECT body, coalesce(accepted_at, created_at) FROM message
	WHERE phone = ` + asText + ` ORDER BY id DESC LIMIT 5`
	sqlLeftAlone = `SELECT phone, until, fruitless, flooded FROM exchange WHERE until > $1
	ORDER BY until DESC LIMIT 20`
	sqlLeftAloneCount = `SELECT count(*) FROM exchange WHERE until > $1`
)

// Exchange returns the exchange of a phone; the zero value if none is stored.
func (tx *Tx) Exchange(phone Phone) (e Exchange, err error) {
	if err := tx.Lock(phone); err != nil {
		return e, err
	}
	_, err = tx.one(sqlExchange, args(phone.E164()), &e.At, &e.Mark, &e.Same, &e.Fruitless, &e.HourAt, &e.Answers,
		&e.Pauses, &e.Until, &e.Flooded)
	return e, fail("exchange", err)
}

// SaveExchange stores the exchange of a phone.
func (tx *Tx) SaveExchange(phone Phone, e Exchange) error {
	return fail("save exchange", tx.do(sqlSaveExchange, phone.E164(), e.At, e.Mark, e.Same, e.Fruitless, e.HourAt,
		e.Answers, e.Pauses, e.Until, e.Flooded))
}

// DropExchange forgets the exchange of a phone, so that the phone is answered again. was reports whether there was one.
func (tx *Tx) DropExchange(phone Phone) (was bool, err error) {
	n, err := tx.exec(sqlDropExchange, phone.E164())
	return n > 0, fail("drop exchange", err)
}

// Mark returns a keyed hash of a text, with which equal texts are recognized without storing them.
func (tx *Tx) Mark(text string) []byte { return tx.keyedHash("mark\x00" + text)[:16] }

// SentText is a text that was sent to a phone.
type SentText struct {
	Text string
	At   int64 // when a network accepted the text; if none has, when the text was written
}

// LastTexts returns the last texts that were written to a phone since an instant, at most five, the latest first.
func (tx *Tx) LastTexts(phone Phone, since int64) ([]SentText, error) {
	list, err := rows(tx, sqlLastTexts, args(phone.E164()), func(s *SentText) []any {
		return args(&s.Text, &s.At)
	})
	list = slices.DeleteFunc(list, func(s SentText) bool { return s.At < since })
	return list, fail("last texts", err)
}

// LeftAlone is a phone whose texts get no answer for a while.
type LeftAlone struct {
	Phone     Phone
	Until     int64
	Fruitless int
	Flooded   bool
}

// LeftAlone returns at most twenty phones that are left alone now, and the number of all such phones. The phones whose
// pause ends last come first.
func (tx *Tx) LeftAlone(now int64) (list []LeftAlone, all int64, err error) {
	if _, err = tx.one(sqlLeftAloneCount, args(now), &all); err == nil {
		list, err = rows(tx, sqlLeftAlone, args(now), func(l *LeftAlone) []any {
			return args(&l.Phone, &l.Until, &l.Fruitless, &l.Flooded)
		})
	}
	return list, all, fail("left alone", err)
}
