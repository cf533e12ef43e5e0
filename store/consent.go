package store

import (
	"crypto/sha256"
	"encoding/hex"
)

// What a grower decided, as the table consent has it.
const (
	consentGiven    = "given"
	consentRenewed  = "renewed"
	consentStopped  = "stopped"
	consentStarted  = "started"
	consentLanguage = "language"
)

// Via says on which channel the grower speaks: it is kept with what they decide.
func (l *Ledger) Via(channel string) { l.channel = channel }

// ConsentVersion names words in a language: other words are another version.
func ConsentVersion(language, words string) string {
	sum := sha256.Sum256([]byte(language + "\n" + words))
	return hex.EncodeToString(sum[:8])
}

const (
	sqlKeepWords = `INSERT INTO consent_text (version, language, body) VALUES ($1, $2, $3) ON CONFLICT (version) DO NOTHING`
	sqlConsent   = `INSERT INTO grower (phone, language, place_id, consent_at, consent_text, consent_channel, created_at, seen_at)
	VALUES ($1, $2, $3, $4, $5, $6, $4, $4)
	ON CONFLICT (phone) DO UPDATE SET language = excluded.language, consent_at = excluded.consent_at,
		consent_text = excluded.consent_text, consent_channel = excluded.consent_channel, seen_at = excluded.seen_at
	RETURNING id`
	// One row, not the rows of a SELECT: those SQLite would have to be able to
	// undo alone, which in a large transaction takes long.
	sqlDecided = `INSERT INTO consent (at, what, channel, text_version, language, grower_id)
	VALUES ($1, $2, $3, (SELECT g.consent_text FROM grower g WHERE g.id = $4), (SELECT g.language FROM grower g WHERE g.id = $4), $4)`
)

// Consent makes the grower's records, or renews the consent, and starts texts.
// The words are those that the grower said yes to: they are kept, once for all
// who did.
func (l *Ledger) Consent(language, words, channel string) error {
	what := consentGiven
	if l.Known() {
		what = consentRenewed
	}
	l.Via(channel)
	version := ConsentVersion(language, words)
	if err := l.do(sqlKeepWords, version, language, words); err != nil {
		return fail("consent", err)
	}
	var id int64
	_, err := l.tx.one(sqlConsent, args(l.phone.E164(), language, l.place.ID, l.now, version, channel), &id)
	if err != nil {
		return fail("consent", err)
	}
	l.id, l.language, l.seenAt = id, language, l.now
	if err := l.decided(what); err != nil {
		return err
	}
	return l.start()
}

// decided adds to the history of what the grower wants; of a stranger there is none.
func (l *Ledger) decided(what string) error {
	if !l.Known() {
		return nil
	}
	return fail("consent history", l.do(sqlDecided, l.now, what, l.channel, l.id))
}
