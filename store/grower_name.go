package store

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// The longest name and note of a grower, in characters: a line on the screen of a phone, and two sentences.
const (
	MaxGrowerName = 40
	MaxGrowerNote = 200
)

// ErrGrowerName and ErrGrowerNote are returned for a name or a note that cannot be stored.
var (
	ErrGrowerName = fmt.Errorf("store: a name has at most %d letters, in one line", MaxGrowerName)
	ErrGrowerNote = fmt.Errorf("store: a note has at most %d characters", MaxGrowerNote)
)

// What entries of the trail say of a changed name and note. They are found by it: an unlinked grower loses both.
const (
	TrailName = "changed the name"
	TrailNote = "changed the note"
)

const (
	sqlSetName        = `UPDATE grower SET name = $1, name_key = $2 WHERE id = $3`
	sqlSetNote        = `UPDATE grower SET note = $1 WHERE id = $2`
	sqlNameFromCircle = `UPDATE grower SET name = $1, name_key = $2 WHERE id = $3 AND name = ''`
)

// SetName stores what staff call the grower; "" removes the name. It returns ErrGrowerName for a name that is too long
// or has other characters than one line has.
func (l *Ledger) SetName(name string) error {
	if !l.Known() {
		return ErrUnknown
	}
	name, good := oneLine(name, MaxGrowerName)
	if !good {
		return ErrGrowerName
	}
	return fail("set name", l.do(sqlSetName, name, nameKey(name), l.id))
}

// SetNote stores a note of staff about the grower; "" removes it. It returns ErrGrowerNote for a note that is too long.
func (l *Ledger) SetNote(note string) error {
	if !l.Known() {
		return ErrUnknown
	}
	note, good := oneLine(note, MaxGrowerNote)
	if !good {
		return ErrGrowerNote
	}
	return fail("set note", l.do(sqlSetNote, note, l.id))
}

// nameFromCircle gives a grower without a name the one under which a circle knows the grower.
func (l *Ledger) nameFromCircle(name string) error {
	name, good := oneLine(name, MaxGrowerName)
	if !good {
		return nil // the circle takes more than the staff pages do
	}
	return l.do(sqlNameFromCircle, name, nameKey(name), l.id)
}

// oneLine returns a text in one line with single spaces. good is false if it is longer than most characters, or has
// characters that are not printed.
func oneLine(s string, most int) (line string, good bool) {
	line = strings.Join(strings.Fields(s), " ")
	odd := func(r rune) bool { return unicode.Is(unicode.C, r) && r != '\u200c' && r != '\u200d' } // joiners of letters
	return line, utf8.ValidString(s) && utf8.RuneCountInString(line) <= most && !strings.ContainsFunc(line, odd)
}

// nameKey returns a name as it is searched and sorted: without the difference between capital and small letters, and
// without accents. Both databases compare it octet by octet.
func nameKey(name string) string {
	// Compatibility caseless matching (The Unicode Standard, section 3.13, D146).
	folded := norm.NFD.String(strings.ToValidUTF8(name, "\ufffd"))
	for range 2 {
		folded = norm.NFKD.String(cases.Fold().String(folded))
	}
	plain := strings.Map(func(r rune) rune {
		if r >= 0x300 && r <= 0x36f { // combining diacritical marks; vowel signs of other scripts stay
			return -1
		}
		return r
	}, folded)
	// A sign of its own, such as a lone accent, leaves a space.
	return norm.NFC.String(strings.Join(strings.Fields(plain), " "))
}

const sqlGrowerPhone = `SELECT phone FROM grower WHERE id = ` + asID

// LedgerOf opens the records of a grower by the id, for staff. The grower may have no number. It returns ErrUnknown for
// an unknown id.
func (tx *Tx) LedgerOf(growerID, now int64) (*Ledger, error) {
	for {
		var phone Phone
		known, err := tx.one(sqlGrowerPhone, args(growerID), &phone)
		switch {
		case err != nil:
			return nil, fail("ledger", err)
		case !known:
			return nil, ErrUnknown
		}
		l, err := tx.Ledger(phone, now)
		if err != nil || l.id == growerID {
			return l, err
		}
		// The records have moved to another number while the transaction waited for the lock of this one.
	}
}

// PhoneOf returns the number of a grower, "" if the grower has none. It returns ErrUnknown for an unknown id.
func (tx *Tx) PhoneOf(growerID int64) (Phone, error) {
	var phone Phone
	known, err := tx.one(sqlGrowerPhone, args(growerID), &phone)
	if err == nil && !known {
		return "", ErrUnknown
	}
	if withoutNumber(phone) {
		phone = ""
	}
	return phone, fail("phone", err)
}
