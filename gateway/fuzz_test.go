package gateway

import (
	"net/http"
	"testing"
	"unicode/utf8"

	"rowbell/gateway/profile"
)

// Whatever the body contains, the values of an accepted call are within their bounds, and the answer to a
// refused call names the field with the mistake.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{
		`{"phone":"+447700900123","session":"s1","event":"begin","dialled":"*123#","step":0}`,
		`{"id":"t1","phone":"07700900123","text":"hello","sent_at":"2026-06-01T06:00:00Z"}`,
		`{"id":"k1","state":"delivered","at":"2026-06-01T06:00:00Z","reason":""}`,
		`phone=%2B447700900123&session=s1&event=entry&entry=1&step=1`,
		`{"phone":{"a":[1,2,{}]}}`, `{"step":1e400}`, "{\"entry\":\"\\u0000\"}", `{"entry":"\ud800"}`, `a=1&a=2`,
		`null`, `[]`, ``,
	} {
		f.Add(s, true)
		f.Add(s, false)
	}
	p := profile.Default("local")
	p.CountryCode = "44"
	f.Fuzz(func(t *testing.T, body string, asJSON bool) {
		kind := "application/x-www-form-urlencoded"
		if asJSON {
			kind = "application/json"
		}
		doc, err := p.USSD.Read(http.Header{"Content-Type": {kind}}, "", []byte(body))
		if err != nil {
			return
		}
		in := &fields{doc: doc}
		u, err := readUSSD(&call{network: &p, in: in})
		if err != nil {
			if len(in.bad) == 0 || in.bad[0].Pointer == "" || in.bad[0].Detail == "" {
				t.Fatalf("refused without a place: %v", err)
			}
			return
		}
		if u.phone == "" || u.session == "" || len(u.session) > 4*maxID || u.event == "" {
			t.Fatalf("let through: %+v", u)
		}
		for _, s := range []string{u.session, u.dialled, u.entry} {
			if !utf8.ValidString(s) || utf8.RuneCountInString(s) > maxText {
				t.Fatalf("let through: %q", s)
			}
		}
		if u.key != "" && len(u.key) > 64 {
			t.Fatalf("key %q", u.key)
		}
	})
}
