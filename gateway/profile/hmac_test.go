package profile

import (
	"encoding/base64"
	"encoding/hex"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// RFC 4231 section 4.3, test case 2, in both codings.
func TestHMACVector(t *testing.T) {
	const key, said = "Jefe", "what do ya want for nothing?"
	const sum = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
	octets := must(hex.DecodeString(sum))
	look := secretsOf(map[string]string{"NEW": "another", "OLD": key})
	for coding, value := range map[string]string{
		"hex": sum, "": strings.ToUpper(sum), "base64": base64.StdEncoding.EncodeToString(octets),
	} {
		spec := TrustSpec{By: ByHMAC, Secrets: []string{"NEW", "OLD"}}
		spec.HMACSpec = HMACSpec{Header: "x-sum", Coding: coding}
		trust := must(spec.build(look))
		for body, want := range map[string]error{said: nil, said + " ": errSignature, "": errSignature} {
			call := Signed{Header: http.Header{"X-Sum": {value}}, Body: []byte(body)}
			if got, err := trust.Verify(call, time.Time{}); err != want || got != (Verified{}) {
				t.Errorf("%s of %q: %v, %v", coding, body, got, err)
			}
		}
	}
}

// What Explain says can be done: it names only values of the setting time that the description may have, and shows all
// that the signature covers.
func TestExplainOfSigned(t *testing.T) {
	now := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	look := secretsOf(map[string]string{"A": vectorSecret})
	sealed := TrustSpec{By: ByHMAC, Secrets: []string{"A"},
		HMACSpec: HMACSpec{Header: "X-Seal", TimeHeader: "X-Time", Signs: "{{.Time}} {{.Body}}"}}
	for _, tt := range []struct {
		name   string
		spec   TrustSpec
		header http.Header
		want   string
	}{
		{"milliseconds", sealed, http.Header{"X-Seal": {"00"}, "X-Time": {"1780315200000"}},
			`the header X-Time is read as the time 58385-12-11 00:00; time = "unix-ms" fits`},
		{"a time that is in no fixed form", sealed, http.Header{"X-Seal": {"00"}, "X-Time": {"2026-06-01 12:00:00"}},
			`the header X-Time is no time as time = "unix" has it`},
		{"a fraction of a second", sealed, http.Header{"X-Seal": {"00"}, "X-Time": {"1780315200.5"}},
			`the header X-Time is no time as time = "unix" has it`},
		{"the body", TrustSpec{By: BySignature, Secrets: []string{"A"}}, http.Header{"Webhook-Signature": {"v1,AA"}},
			"signed are webhook-id, webhook-timestamp and body with points between them; " +
				"the key is the base64 behind whsec_"},
		{"the call", TrustSpec{By: BySignature, Secrets: []string{"A"}, Covers: coversCall},
			http.Header{"Webhook-Signature": {"v1,AA"}},
			`signed are webhook-id, webhook-timestamp and "POST /in/heron/sms?{{.Query}}\n{{.Body}}" with points ` +
				"between them; the key is the base64 behind whsec_"},
	} {
		call := Signed{Method: http.MethodPost, Path: "/in/heron/sms", Query: "a=1", Header: tt.header,
			Body: []byte("b")}
		got := must(tt.spec.build(look)).Explain(call, netip.Addr{}, now)
		if got != tt.want {
			t.Errorf("%s: %s\nwant %s", tt.name, got, tt.want)
		}
	}
}

// No two calls that differ give the same octets under the HMAC, whatever the body or the query holds, or the
// description is refused: otherwise the signature of one call would be right for another.
func FuzzSigns(f *testing.F) {
	for _, signs := range []string{
		"{{.Body}}", "{{.Time}}.{{.Body}}", "{{.Time}}{{.Body}}", "{{.Body}}{{.Time}}", "{{.Query}}\n{{.Body}}",
		"{{.Body}} {{.Time}}{{.Query}}", "{{.Method}} {{.Path}}?{{.Query}}\n{{.Time}}:{{.Body}}",
		"{{{{.Body}}", "a{{.X}}",
	} {
		f.Add(signs, "a=1", `{"a":1}`, "a=", `1{"a":1}`)
		f.Add(signs, "", "1700000001.x", "a", "x")
	}
	f.Fuzz(func(t *testing.T, signs, query, body, query2, body2 string) {
		spec := HMACSpec{Header: "X", Signs: signs}
		if strings.Contains(signs, "Time") {
			spec.TimeHeader = "Y"
		}
		rule, err := spec.build()
		if err != nil || strings.ContainsAny(query+query2, " \n") { // HTTP has no such query
			return
		}
		octets := func(query, body string) string {
			call := Signed{Method: http.MethodPost, Path: "/in/x/sms", Query: query, Body: []byte(body)}
			return string(rule.content(call, "1700000000"))
		}
		covered := rule.query && query != query2 || rule.body && body != body2
		if covered && octets(query, body) == octets(query2, body2) {
			t.Errorf("%q: %q and %q look like %q and %q", signs, query, body, query2, body2)
		}
	})
}
