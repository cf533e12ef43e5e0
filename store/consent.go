package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
)

// Via sets the channel ("ussd" or "sms") that is stored with the grower's decisions from now on.
func (l *Ledger) Via(channel string) { l.channel = channel }

// ConsentVersion returns a hash of a consent text and its language, by which the text is stored only once.
func ConsentVersion(language, words string) string {
	sum := sha256.Sum256([]byte(language + "\n" + words))
	return hex.EncodeToString(sum[:8])
}

const (
	sqlKeepWords = `INSERT INTO consent_text (version, language, body) VALUES ($1, $2, $3)
		ON CONFLICT (version) DO NOTHING`
	sqlConsent = `INSERT INTO grower (phone, language, place_id, consent_at, consent_text, consent_channel,
		created_at, seen_at)
	VALUES ($1, $2, $3, $4, $5, $6, $4, $4)
	ON CONFLICT (phone) DO UPDATE SET language = excluded.language, consent_at = excluded.consent_at,
		consent_text = excluded.consent_text, consent_channel = excluded.consent_channel, seen_at = excluded.seen_at
	RETURNING id`
	// VALUES is used and not INSERT … SELECT, because SQLite keeps a slow undo log for the rows of a SELECT.
	sqlDecided = `INSERT INTO consent (at, what, channel, text_version, language, grower_id)
	VALUES ($1, $2, $3, (SELECT g.consent_text FROM grower g WHERE g.id = $4),
		(SELECT g.language FROM grower g WHERE g.id = $4), $4)`
)

// Consent creates the grower's records, or renews the consent, and allows texts to the phone. The argument words is
// the exact text that the grower agreed to.
func (l *Ledger) Consent(language, words, channel string) error {
	what := "given"
	if l.Known() {
		what = "renewed"
	}
	l.Via(channel)
	version := ConsentVersion(language, words)
	err := l.do(sqlKeepWords, version, language, words)
	if err == nil {
		_, err = l.tx.one(sqlConsent, args(l.phone.E164(), language, l.place.ID, l.now, version, channel), &l.id)
	}
	if err != nil {
		return fail("consent", err)
	}
	l.language, l.seenAt = language, l.now
	return errors.Join(l.decided(what), l.start())
}

// decided adds a decision to the grower's consent history: "given", "renewed", "stopped", "started" or "language". If
// the phone has no records, decided does nothing. Call decided only if the decision changed something.
func (l *Ledger) decided(what string) error {
	if !l.Known() {
		return nil
	}
	return fail("consent history", l.do(sqlDecided, l.now, what, l.channel, l.id))
}
