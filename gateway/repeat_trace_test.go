package gateway_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"pgregory.net/rapid"

	"rowbell/gateway/profile"
)

// However a session goes, whatever its entries hold, and whichever calls come
// again: the menu is asked once for each entry, with what was entered, and each
// call gets the answer that it got before.
func TestAnySessionIsFollowed(t *testing.T) {
	for name, change := range map[string]func(*profile.USSDSpec){
		"whole, no entry":    func(s *profile.USSDSpec) { s.Begins, s.Holds = "no-entry", "all" },
		"whole, new session": func(s *profile.USSDSpec) { s.Begins, s.Holds, s.Separator = "new-session", "all", "~~" },
		"last, new session":  func(s *profile.USSDSpec) { s.Begins = "new-session" },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			spec := formUSSD(change)
			h := described(t, spec)
			session := 0
			rapid.Check(t, func(t *rapid.T) {
				session++
				before := len(h.menu.asked())
				separator := spec.USSD.Separator
				if separator == "" {
					separator = "*"
				}
				// A phone of its own, so that no session is gone on with.
				number := fmt.Sprintf("+44%d", 7700900000+session%1000)
				post := func(entry string) string {
					body := url.Values{"p": {number}, "s": {fmt.Sprint("s", session)}, "e": {entry}}.Encode()
					w := h.post("/in/tern/ussd", body, asForm)
					if w.Code != http.StatusOK {
						t.Fatalf("%q: %d %s", entry, w.Code, w.Body)
					}
					return w.Body.String()
				}
				entries := rapid.SliceOfN(rapid.StringMatching(`[1-9][0-9*~]{0,3}[a-c]?`), 1, 6).Draw(t, "entries")
				sent, got := []string{""}, []string{post("")}
				whole := ""
				for i, e := range entries {
					held := e
					if spec.USSD.Holds == "all" {
						if i > 0 {
							whole += separator
						}
						whole += e
						held = whole
					}
					answer := post(held)
					if answer != "+You said "+e {
						t.Fatalf("%q was understood as %s", e, answer)
					}
					sent, got = append(sent, held), append(got, answer)
					// Without ids nobody can tell a repeated entry from the same
					// entry once more; the whole of a session can.
					if spec.USSD.Holds == "all" && rapid.Bool().Draw(t, "again") {
						n := rapid.IntRange(0, len(sent)-1).Draw(t, "which")
						if answer := post(sent[n]); answer != got[n] {
							t.Fatalf("%q again: %s, and before %s", sent[n], answer, got[n])
						}
					}
				}
				if asked := len(h.menu.asked()) - before; asked != 1+len(entries) {
					t.Fatalf("the menu was asked %d times for %q", asked, entries)
				}
			})
		})
	}
}
