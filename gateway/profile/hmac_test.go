package profile

import (
	"encoding/base64"
	"encoding/hex"
	"net/http"
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

// What is signed is read back whole from the octets under the HMAC, whatever the body or the query holds: otherwise a
// signature of one call would be right for another. The description is refused, or two calls that differ differ here.
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
			s := ""
			for _, p := range rule.parts {
				s += p.text + map[string]string{"Time": "1700000000", "Method": "POST", "Path": "/in/x/sms",
					"Query": query, "Body": body}[p.value]
			}
			return s
		}
		covered := rule.query && query != query2 || rule.body && body != body2
		if covered && octets(query, body) == octets(query2, body2) {
			t.Errorf("%q: %q and %q look like %q and %q", signs, query, body, query2, body2)
		}
	})
}
