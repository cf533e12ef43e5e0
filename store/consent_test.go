package store

import (
	"fmt"
	"testing"
)

// decisions returns the consent history of a phone as the export of personal data shows it.
func decisions(t *testing.T, s *Store, p Phone) (list []string) {
	t.Helper()
	person := read(t, s, p, noon, func(l *Ledger) (PersonalData, error) { return l.tx.PersonalData(p, noon) })
	if person.Records == nil {
		return nil
	}
	for _, c := range person.Records.Consent {
		list = append(list, fmt.Sprintf("%d %s %s %s %q", int64(c.At)-noon, c.What, c.Language, c.Channel, c.Text))
	}
	return list
}

// A consent is recorded with the phone, the instant, the words, their language and the channel (GDPR Articles 7(1) and
// 7(3)). A decision that changes nothing adds no row to the history.
func TestConsentHistory(t *testing.T) {
	s := open(t)
	at := func(offset int64, channel string, fn func(*Ledger) error) {
		t.Helper()
		ledger(t, s, ana, noon+offset, func(l *Ledger) error { l.Via(channel); return fn(l) })
	}
	at(0, "sms", (*Ledger).Stop) // no row: the phone has no records yet
	at(1, "", func(l *Ledger) error { return l.Consent("en", "May we?", "ussd") })
	at(2, "ussd", (*Ledger).Start)
	at(3, "sms", func(l *Ledger) error { return l.SetLanguage("sw") })
	at(4, "sms", func(l *Ledger) error { return l.SetLanguage("sw") })
	at(5, "sms", (*Ledger).Stop)
	at(6, "ussd", (*Ledger).Stop)
	at(7, "ussd", (*Ledger).Start)
	at(8, "", (*Ledger).Stop) // by staff, so the row has no channel
	at(9, "", func(l *Ledger) error { return l.Consent("en", "May we, please?", "sms") })
	want := []string{
		`1 given en ussd "May we?"`, `3 language sw sms "May we?"`, `5 stopped sw sms "May we?"`,
		`7 started sw ussd "May we?"`, `8 stopped sw  "May we?"`, `9 renewed en sms "May we, please?"`,
	}
	equal(t, decisions(t, s, ana), want, "history")
	errorIf(t, stopped(t, s, ana), "the new consent did not lift the STOP")
	wantRows(t, s, map[string]int64{"opt_out": 0})
	equal(t, decisions(t, s, ben), nil, "of another phone")
	wantNumber(t, s, noon+9, "SELECT consent_at FROM grower WHERE consent_text = $1 AND consent_channel = 'sms'",
		ConsentVersion("en", "May we, please?"))
	// The function reopen does not change the channel that Via set.
	ledger(t, s, ben, noon+10, func(l *Ledger) error {
		l.Via("sms")
		err := l.reopen()
		equal(t, l.channel, "sms", "channel")
		return err
	})
}

// The words of a consent are stored once for all growers. Other words, or another language, are another version.
func TestConsentWordsAreKeptOnce(t *testing.T) {
	s := open(t)
	for i, words := range [][2]string{{"en", "May we?"}, {"en", "May we?"}, {"en", "May we now?"}, {"sw", "May we?"}} {
		ledger(t, s, examplePhone(1+i), noon, func(l *Ledger) error { return l.Consent(words[0], words[1], "ussd") })
	}
	wantNumber(t, s, 3, "SELECT count(*) FROM consent_text")
	wantNumber(t, s, 1, `SELECT count(*) FROM consent_text t WHERE t.body = 'May we?'
		AND t.version = (SELECT g.consent_text FROM grower g WHERE g.phone = $1)`, ben.E164())
	// A version is a hash of the words, so it is the same in every database.
	a, b := ConsentVersion("en", "May we?"), ConsentVersion("en", "May we")
	errorIf(t, len(a) != 16 || a == b, "versions %s and %s", a, b)
}

// Consents from before the consent history existed become the first row of the history.
func TestConsentBeforeItsHistory(t *testing.T) {
	path, db := atFirst(t)
	putFirstRecords(t, db)
	ok(t, second(db.Exec("UPDATE grower SET stopped_at = 9, consent_at = 7 WHERE id = 2")))
	closed(t, db)
	s := openAt(t, path)
	for p, want := range map[Phone][]string{ana: {"given 5 v sms"}, ben: {"renewed 7 v sms", "stopped 9 v "}} {
		person := read(t, s, p, noon, func(l *Ledger) (PersonalData, error) { return l.tx.PersonalData(p, noon) })
		var got []string
		for _, c := range person.Records.Consent {
			equal(t, c.Text, "", "words that the first release did not store")
			got = append(got, fmt.Sprintf("%s %d %s %s", c.What, int64(c.At), c.TextVersion, c.Channel))
		}
		equal(t, got, want, "%v", p)
	}
}
