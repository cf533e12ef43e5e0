package store

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"rowbell/engine"
)

// LetterNote is the Note of a text of a letter, which is one text from staff to many growers.
const LetterNote = "letter"

// LetterFilter says for whom a letter is: for the growers of the places that all other fields select. Zero fields
// select all.
type LetterFilter struct {
	Places     Scope       `json:"places"`
	Language   string      `json:"language,omitempty"`
	State      GrowerState `json:"state,omitempty"`
	Circle     int         `json:"circle,omitempty"`       // number of a circle
	InCircle   bool        `json:"in_circle,omitempty"`    // only members of a circle
	NotHeardOf int         `json:"not_heard_of,omitempty"` // at least for so many days
}

// LeftOut is a reason why a grower whom the filter selects gets no text of a letter.
type LeftOut int

const (
	LeftNone        LeftOut = iota // the grower gets a text
	LeftNoNumber                   // the number turned out to belong to somebody else
	LeftStopped                    // wants no texts
	LeftUnreachable                // a network reported that the number does not exist
	LeftSilent                     // was not heard of for SilentAfter: the number may have a new owner
	LeftLetterToday                // got a letter on the same day
	LeftWeek                       // got as many texts in seven days as may be sent
	LeftNoWords                    // the letter has no text in the language of the grower
	LeftBeyond                     // more growers than were confirmed

	endOfLeftOut
)

// LeftOutReasons lists the reasons, without LeftNone.
func LeftOutReasons() []LeftOut {
	var list []LeftOut
	for r := LeftNone + 1; r < endOfLeftOut; r++ {
		list = append(list, r)
	}
	return list
}

// Letter is one text, in several languages, from staff to many growers.
type Letter struct {
	ID     int64
	Who    string // the name of the account that wrote it, at that time
	MadeAt int64
	Filter LetterFilter
	Words  map[string]string // the text of each language, by its tag

	// It goes out from the local day Begins, BeginsHour o'clock, to the local day Until, QuietHour o'clock.
	Begins, Until         engine.Day
	BeginsHour, QuietHour int

	Confirmed int64             // how many growers staff confirmed; no more get a text
	Written   int64             // texts that were put in the outbox
	LeftOut   map[LeftOut]int64 // how many growers got none
	StoppedBy string            // the name of the account that stopped it; "" if nobody did
	EndedAt   int64             // when all growers were looked at, or it was stopped; 0: it goes on

	lastGrower int64
}

const (
	sqlAddLetter = `INSERT INTO letter (who, made_at, filter, words, begins_day, begins_hour, until_day, quiet_hour,
		confirmed, last_grower) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	sqlAddLetterPlace = `INSERT INTO letter_place (letter_id, place_id, next_at) VALUES ($1, $2, $3)`
	letterColumns     = `l.id, l.who, l.made_at, l.filter, l.words, l.begins_day, l.begins_hour, l.until_day,
		l.quiet_hour, l.confirmed, l.last_grower, l.written, l.left_out, l.stopped_by, coalesce(l.ended_at, 0)`
	sqlLetter = `SELECT ` + letterColumns + ` FROM letter l WHERE l.id = ` + asID
	// A letter is shown to those who see all of its places.
	sqlLetters = `SELECT ` + letterColumns + ` FROM letter l
	WHERE EXISTS (SELECT 1 FROM letter_place p WHERE p.letter_id = l.id AND p.place_id IN ` + idList + `)
		AND NOT EXISTS (SELECT 1 FROM letter_place p WHERE p.letter_id = l.id AND NOT p.place_id IN ` + idList + `)
		AND l.id < $2
	ORDER BY l.id DESC LIMIT CAST($3 AS BIGINT)`
	sqlLetterStates = `SELECT m.state, count(*) FROM message m
	WHERE m.letter_id = ` + asID + ` AND m.letter_id IS NOT NULL GROUP BY m.state`
	sqlLetterEnds = `UPDATE letter SET ended_at = $1 WHERE id = $2 AND ended_at IS NULL
		AND NOT EXISTS (SELECT 1 FROM letter_place p WHERE p.letter_id = $2 AND p.next_at IS NOT NULL)`
	sqlStopLetter       = `UPDATE letter SET stopped_by = $1, ended_at = $2 WHERE id = $3 AND stopped_by = ''`
	sqlStopLetterPlaces = `UPDATE letter_place SET next_at = NULL WHERE letter_id = $1`
	sqlWithdrawLetter   = `UPDATE message SET state = CASE WHEN doubt = 1 THEN 'unknown' ELSE 'withdrawn' END,
		claim_at = NULL, held = 0, ended_at = $1
	WHERE letter_id = $2 AND letter_id IS NOT NULL AND state = 'queued'`
	// A text that a network is sending most likely arrives; there is no further try of it.
	sqlLetterLastTry = `UPDATE message SET useful_until = min(useful_until, max(due_at, $1 - 1))
	WHERE letter_id = $2 AND letter_id IS NOT NULL AND state = 'claimed'`
	sqlLetterDecided = `UPDATE message SET undecided = 0
	WHERE letter_id = $1 AND letter_id IS NOT NULL AND state = 'unknown' AND undecided = 1`
	sqlPruneLetters = `DELETE FROM letter WHERE id IN
	(SELECT c.id FROM letter c WHERE c.ended_at < $1 ORDER BY c.ended_at LIMIT CAST($2 AS BIGINT))`
	// After a restore nobody knows who got a letter after the backup, so it does not go on.
	sqlStopAllLetters = `UPDATE letter SET stopped_by = 'a restore', ended_at = $1 WHERE id IN
	(SELECT p.letter_id FROM letter_place p WHERE p.next_at IS NOT NULL)`
	sqlStopAllPlaces = `UPDATE letter_place SET next_at = NULL WHERE next_at IS NOT NULL`
)

func (l *Letter) into(filter, words, leftOut *string) []any {
	return args(&l.ID, &l.Who, &l.MadeAt, filter, words, &l.Begins, &l.BeginsHour, &l.Until, &l.QuietHour,
		&l.Confirmed, &l.lastGrower, &l.Written, leftOut, &l.StoppedBy, &l.EndedAt)
}

func (tx *Tx) letters(query string, a ...any) (list []Letter, err error) {
	err = tx.each(query, a, func(scan func(...any) error) error {
		var l Letter
		var filter, words, leftOut string
		if err := scan(l.into(&filter, &words, &leftOut)...); err != nil {
			return err
		}
		for text, into := range map[string]any{filter: &l.Filter, words: &l.Words, leftOut: &l.LeftOut} {
			if err := json.Unmarshal([]byte(text), into); err != nil {
				return fmt.Errorf("letter %d: %w", l.ID, err)
			}
		}
		list = append(list, l)
		return nil
	})
	return list, err
}

// check returns an error for a letter that cannot be sent. Staff see mistakes before, in their own words.
func (l Letter) check() error {
	switch {
	case len(l.Words) == 0, len(l.Filter.Places) == 0:
		return fmt.Errorf("a letter without words or places")
	case slices.Contains(slices.Collect(maps.Values(l.Words)), ""):
		return fmt.Errorf("a letter with an empty text")
	case l.Until < l.Begins || l.Until == l.Begins && l.BeginsHour >= l.QuietHour:
		return fmt.Errorf("a letter that ends before it begins")
	}
	return nil
}

// AddLetter stores a letter, which WriteLetter then writes, and returns its id. Growers who join later do not get it.
func (tx *Tx) AddLetter(l Letter, now int64) (id int64, err error) {
	defer func() { err = fail("add letter", err) }()
	if err = l.check(); err != nil {
		return 0, err
	}
	filter, err := json.Marshal(l.Filter)
	if err != nil {
		return 0, err
	}
	words, err := json.Marshal(l.Words)
	if err != nil {
		return 0, err
	}
	if _, err = tx.one(sqlLastGrower, nil, &l.lastGrower); err != nil {
		return 0, err
	}
	places, err := tx.readyPlaces(sqlPlacesByID, ids(l.Filter.Places))
	if err != nil {
		return 0, err
	}
	id, _, err = tx.insert(sqlAddLetter, l.Who, now, string(filter), string(words), l.Begins, l.BeginsHour, l.Until,
		l.QuietHour, l.Confirmed, l.lastGrower)
	for _, p := range places {
		if err == nil {
			err = tx.do(sqlAddLetterPlace, id, p.ID, max(now, l.Begins.At(l.BeginsHour, p.loc).Unix()))
		}
	}
	return id, err
}

// LetterByID returns a letter; false if there is none with this id.
func (tx *Tx) LetterByID(id int64) (Letter, bool, error) {
	list, err := tx.letters(sqlLetter, id)
	if err != nil || len(list) == 0 {
		return Letter{}, false, fail("letter", err)
	}
	return list[0], true, nil
}

// Letters returns at most limit letters whose places are all in scope, the newest first. before is the id of the last
// letter of the page before; 0: the first page.
func (tx *Tx) Letters(scope Scope, before int64, limit int) ([]Letter, error) {
	if before == 0 {
		before = 1<<63 - 1
	}
	list, err := tx.letters(sqlLetters, ids(scope), before, limit)
	return list, fail("letters", err)
}

// LetterStates returns how many texts of a letter are in each state. Texts past their retention are not counted.
func (tx *Tx) LetterStates(id int64) (map[State]int64, error) {
	states := map[State]int64{}
	err := tx.each(sqlLetterStates, args(id), func(scan func(...any) error) error {
		var s State
		var n int64
		err := scan(&s, &n)
		states[s] = n
		return err
	})
	return states, fail("letter states", err)
}

// StopLetter stops a letter in the name of an account, and withdraws its waiting texts. It returns how many it withdrew
// and false if the letter was stopped before.
func (tx *Tx) StopLetter(id int64, who string, now int64) (withdrawn int64, stopped bool, err error) {
	defer func() { err = fail("stop letter", err) }()
	n, err := tx.exec(sqlStopLetter, who, now, id)
	if err != nil || n == 0 {
		return 0, false, err
	}
	if err := tx.do(sqlStopLetterPlaces, id); err != nil {
		return 0, false, err
	}
	if err := tx.do(sqlLetterLastTry, now, id); err != nil {
		return 0, false, err
	}
	if withdrawn, err = tx.exec(sqlWithdrawLetter, now, id); err != nil {
		return 0, false, err
	}
	return withdrawn, true, tx.do(sqlLetterDecided, id)
}

// stopLetters stops all letters after a restore.
func (tx *Tx) stopLetters(now int64) error {
	if err := tx.do(sqlStopAllLetters, now); err != nil {
		return err
	}
	return tx.do(sqlStopAllPlaces)
}

// ends returns until when a letter goes out at a place, in Unix seconds.
func (l Letter) ends(zone *time.Location) int64 { return l.Until.At(l.QuietHour, zone).Unix() - 1 }
