package main

import (
	"bytes"
	"strings"
	"testing"
)

// quietScript is a grower who tells a name, an area, words of their own and a
// code, and of whom staff do all that can be done beside the service.
const quietScript = `start 2026-11-25 09:00
phone +447700900041
sms > my cow is called Fenwick
> dial *123#
> 1
> 1
> 1
> 12/11
> 1
> 1
> 1
> 47*13
> 00
> 2
> 6
> 1
> 6
> Quillmere
sms > where is Thornbury market
sms > STOP
sms > START
@ +8 days
> dial *123*6*6#
> 1
@ restart
rowbell person --phone +447700900041
rowbell person --phone +447700900041 --export all.json
rowbell move --from +447700900041 --to +447700900042
rowbell move --unlinked
rowbell person --phone 0447700900042
rowbell person --phone +447700900042 --erase
rowbell person --phone +447700900042 --erase --yes
rowbell person --phone +447700900042
`

// Logs and what commands print hold no number, no text that was typed or sent
// and no name, at the level that says most (OWASP ASVS 5.0, 16.2.5: sensitive
// data only hashed or masked, from a late draft; common practice).
func TestNobodysWordsAreLogged(t *testing.T) {
	d := &dialogue{t: t, shown: new(bytes.Buffer), session: map[string]int{}, step: map[string]int{}}
	shown := d.play(quietScript)
	if !strings.Contains(shown, "< Quillmere") || !strings.Contains(shown, "611 m2") {
		t.Fatalf("name or area were not taken:\n%s", shown)
	}
	printed := ""
	for line := range strings.Lines(shown) {
		if strings.HasPrefix(line, "| ") {
			printed += line
		}
	}
	for _, done := range []string{"Kept of     +4477…041", "Written: ", "Moved: ", "Erased: ", "not wanted since"} {
		if !strings.Contains(printed, done) {
			t.Errorf("%q was not printed:\n%s", done, printed)
		}
	}
	log := d.p.log.String()
	assertNoNumbers(t, printed)
	assertNoNumbers(t, log)
	if !strings.Contains(log, `"level":"info"`) {
		t.Error("nothing was logged")
	}
	for _, secret := range []string{"Quillmere", "Fenwick", "cow", "Thornbury", "47*13", d.code, "weed now",
		"No more texts", testToken} {
		if secret == "" {
			t.Error("no code was shown")
			continue
		}
		for where, s := range map[string]string{"log": log, "commands": printed} {
			if strings.Contains(strings.ToLower(s), strings.ToLower(secret)) {
				t.Errorf("%q stands in the %s:\n%s", secret, where, s)
			}
		}
	}
}
