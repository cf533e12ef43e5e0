package store

import (
	"encoding/json"
	"fmt"
	"slices"
)

// LetterPart is what is left of a letter at a place.
type LetterPart struct{ Letter, Place int64 }

const (
	sqlDueLetters = `SELECT p.letter_id, p.place_id FROM letter_place p WHERE p.next_at <= $1
	ORDER BY p.next_at, p.letter_id, p.place_id LIMIT CAST($2 AS BIGINT)`
	sqlLetterPart = `SELECT l.id, p.grower FROM letter_place p JOIN letter l ON l.id = p.letter_id
	WHERE p.letter_id = ` + asID + ` AND p.place_id = CAST($2 AS BIGINT) AND p.next_at <= $3`
	sqlLetterWaits = `SELECT count(*) FROM (SELECT 1 FROM message m
		WHERE m.letter_id = ` + asID + ` AND m.letter_id IS NOT NULL AND m.state IN ('queued', 'claimed')
		LIMIT CAST($2 AS BIGINT)) x`
	sqlLetterNext   = `UPDATE letter_place SET grower = $1, next_at = $2 WHERE letter_id = $3 AND place_id = $4`
	sqlLetterCounts = `UPDATE letter SET written = $1, left_out = $2 WHERE id = $3`
	sqlLetterTexts  = `INSERT INTO message (` + enqueuedColumns + `, letter_id)
	SELECT value->>0, CAST(value->>1 AS BIGINT), value->>2, value->>3, value->>4, CAST(value->>5 AS BIGINT),
		CAST(value->>6 AS BIGINT), CAST(value->>7 AS BIGINT), CAST(value->>6 AS BIGINT), CAST(value->>8 AS BIGINT),
		value->>9, '', CAST(value->>10 AS BIGINT) FROM jsonb_each($1) WHERE true
	ON CONFLICT (key) DO NOTHING`
)

// LetterWaits is how many texts of one letter wait in the outbox at most. So reminders, which share the outbox, never
// wait behind a whole letter, and a letter can be stopped while most of it is not written. Networks send this many in a
// minute or less.
const LetterWaits = 300

// DueLetters returns parts of letters that go on now, at most limit of them, the one that waits longest first.
func (tx *Tx) DueLetters(now int64, limit int) ([]LetterPart, error) {
	list, err := rows(tx, sqlDueLetters, args(now, limit), func(p *LetterPart) []any {
		return args(&p.Letter, &p.Place)
	})
	return list, fail("due letters", err)
}

// WriteLetter looks at the next few growers of a part of a letter, and puts a text in the outbox for each who gets one.
// It returns how many it wrote, and whether nothing more can be written now: all were looked at, the quiet hours have
// begun, enough texts wait, or another process works with the same growers.
//
// How far the part has come is stored in the same transaction, so each grower is looked at once, however often the
// program is killed.
func (tx *Tx) WriteLetter(part LetterPart, now int64, atOnce int) (written int64, done bool, err error) {
	defer func() { err = fail("write letter", err) }()
	var id, after int64
	due, err := tx.one(sqlLetterPart, args(part.Letter, part.Place, now), &id, &after)
	if err != nil || !due {
		return 0, true, err
	}
	letters, err := tx.letters(sqlLetter, id)
	if err != nil || len(letters) == 0 {
		return 0, true, err
	}
	places, err := tx.readyPlaces(sqlPlacesByID, ids([]int64{part.Place}))
	if err != nil || len(places) == 0 {
		return 0, true, err
	}
	w := letterWriter{tx: tx, now: now, letter: &letters[0], place: places[0], after: after}
	if wait, err := w.waits(); err != nil || wait {
		return 0, true, err
	}
	return w.write(atOnce)
}

// letterWriter writes one slice of a letter at a place.
type letterWriter struct {
	tx     *Tx
	now    int64
	letter *Letter
	place  *readyPlace
	after  int64 // id of the last grower who was looked at
}

// waits reports whether the letter cannot go on now, and stores when it goes on.
func (w *letterWriter) waits() (bool, error) {
	if w.now > w.letter.ends(w.place.loc) {
		return true, w.next(w.after, 0)
	}
	if morning, night := w.place.nextMorning(w.now, w.letter.QuietHour); night {
		return true, w.next(w.after, morning)
	}
	var n int
	_, err := w.tx.one(sqlLetterWaits, args(w.letter.ID, LetterWaits), &n)
	return n >= LetterWaits, err
}

// next stores until which grower the part has come, and when it goes on; 0: it is over.
func (w *letterWriter) next(grower, at int64) error {
	if err := w.tx.do(sqlLetterNext, grower, orNull(at), w.letter.ID, w.place.ID); err != nil || at != 0 {
		return err
	}
	return w.tx.do(sqlLetterEnds, w.now, w.letter.ID)
}

func (w *letterWriter) write(atOnce int) (written int64, done bool, err error) {
	growers, err := column[int64](w.tx, sqlLetterIDs, args(w.place.ID, w.after, w.letter.lastGrower, atOnce))
	if err != nil {
		return 0, true, err
	}
	if len(growers) == 0 {
		return 0, true, w.next(w.after, 0)
	}
	free, err := w.tx.lockGrowers(growers)
	if err != nil {
		return 0, true, err
	}
	busy := slices.IndexFunc(growers, func(id int64) bool { return !slices.Contains(free, id) })
	if busy >= 0 {
		growers = growers[:busy] // the others come in a later slice
	}
	if len(growers) == 0 {
		return 0, true, nil
	}
	till := growers[len(growers)-1]
	if written, err = w.texts(till); err != nil {
		return 0, true, err
	}
	return written, false, w.next(till, w.now)
}

// texts writes the texts to the growers after w.after until one.
func (w *letterWriter) texts(till int64) (written int64, err error) {
	l := w.letter
	if l.LeftOut == nil {
		l.LeftOut = map[LeftOut]int64{}
	}
	var texts packed
	err = w.tx.each(sqlLetterGrowers, l.Filter.values(w.place, w.after, till, w.now),
		func(scan func(...any) error) error {
			m := Message{Note: LetterNote}
			var language string
			var fate LeftOut
			if err := scan(&m.GrowerID, &m.To, &language, &fate); err != nil {
				return err
			}
			switch words := l.Words[language]; {
			case fate != LeftNone:
			case words == "":
				fate = LeftNoWords
			case l.Written+written >= l.Confirmed:
				fate = LeftBeyond
			default:
				written++
				texts.add(l.key(m.GrowerID), m.GrowerID, m.To.E164(), m.Kind(), words, w.now,
					w.now, l.ends(w.place.loc), int64(m.urgency()), w.tx.s.routePrefixOf(m.To.E164()), l.ID)
				return nil
			}
			l.LeftOut[fate]++
			return nil
		})
	if err != nil {
		return 0, err
	}
	if err := texts.write(w.tx, sqlLetterTexts); err != nil {
		return 0, err
	}
	l.Written += written
	leftOut, err := json.Marshal(l.LeftOut)
	if err != nil {
		return 0, err
	}
	return written, w.tx.do(sqlLetterCounts, l.Written, string(leftOut), l.ID)
}

// key returns the key of the text to a grower. It has the instant of the letter, because after a restore another letter
// may have the same id.
func (l *Letter) key(grower int64) string {
	return fmt.Sprintf("letter/%d/%d/%d", l.ID, l.MadeAt, grower)
}
