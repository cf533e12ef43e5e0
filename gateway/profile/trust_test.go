package profile

import (
	"encoding/base64"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// This test vector (secret, id, time, body and signature) is in the documentation and in the tests of the libraries of
// Standard Webhooks 1.0.0.
const (
	vectorSecret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
	vectorID     = "msg_p5jXN8AQM9LWM0D4loKWxJek"
	vectorTime   = 1614265330
	vectorBody   = `{"test": 2432232314}`
	vectorSign   = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
)

func TestSignature(t *testing.T) {
	other := "whsec_" + base64.StdEncoding.EncodeToString([]byte("twenty-four octets of it"))
	look := secretsOf(map[string]string{"OLD": other, "NEW": vectorSecret})
	trust := must(TrustSpec{By: "signature", Secrets: []string{"OLD", "NEW"}}.build(look))
	byOther := must(Sign(other, vectorID, time.Unix(vectorTime, 0), []byte(vectorBody)))
	signed := func(stamp string) string {
		return "v1," + base64.StdEncoding.EncodeToString(sign(trust.keys[0], vectorID, stamp, []byte(vectorBody)))
	}
	// first and last are the first and the last second of an int64. The time between them and now is too long for a
	// time.Duration, so a comparison of durations would overflow.
	const stamp, first, last = "1614265330", "-9223372036854775808", "9223372036854775807"
	for _, tt := range []struct {
		name, stamp, sign string
		now               int64
		want              string // text that the error must contain; "" = the signature is right
	}{
		{"the vector", stamp, vectorSign, vectorTime, ""},
		{"by the other secret", stamp, byOther, vectorTime, ""},
		{"one of two", stamp, "v1,AAAA " + vectorSign, vectorTime, ""},
		{"behind another version", stamp, "v1a,AAAA " + vectorSign, vectorTime, ""},
		{"five minutes late", stamp, vectorSign, vectorTime + 300, ""},
		{"five minutes early", stamp, vectorSign, vectorTime - 300, ""},
		{"later", stamp, vectorSign, vectorTime + 301, "too far"},
		{"earlier", stamp, vectorSign, vectorTime - 301, "too far"},
		{"the first second of int64", first, signed(first), vectorTime, "too far"},
		{"the last second of int64", last, signed(last), vectorTime, "too far"},
		{"not base64", stamp, "v1,*", vectorTime, "not right"},
	} {
		h := http.Header{}
		h.Set("webhook-id", vectorID)
		h.Set("webhook-timestamp", tt.stamp)
		h.Set("webhook-signature", tt.sign)
		_, err := trust.Verify(Signed{Header: h, Body: []byte(vectorBody)}, time.Unix(tt.now, 0))
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
	if got, err := Sign(vectorSecret, vectorID, time.Unix(vectorTime, 0), []byte(vectorBody)); got != vectorSign ||
		err != nil {
		t.Errorf("signed %q, %v; want %q", got, err, vectorSign)
	}
}

// These Authorization headers are accepted. Headers that must be refused are in TestHostileRequests and
// TestHostileDescribed of package gateway.
func TestBearerAndBasic(t *testing.T) {
	look := secretsOf(map[string]string{"A": "river-stone", "B": "reed:bank", "C": "pass word"})
	bearer := must(TrustSpec{By: "bearer", Secrets: []string{"A", "B"}}.build(look))
	basic := must(TrustSpec{By: "basic", User: "kiln", Secrets: []string{"B", "C"}}.build(look))
	b64 := func(s string) string { return base64.StdEncoding.EncodeToString([]byte(s)) }
	for header, trust := range map[string]*Trust{
		"Bearer river-stone": bearer, "Bearer  river-stone ": bearer,
		"bearer reed:bank": bearer, // a scheme in small letters is right (RFC 9110 section 11.1)
		// The password is everything after the first colon (RFC 7617 section 2), so it may contain a colon.
		"Basic " + b64("kiln:reed:bank"): basic, "basic " + b64("kiln:pass word"): basic,
	} {
		if !trust.Admits(header) {
			t.Errorf("%s is refused", header)
		}
	}
	h := HashToken("river-stone")
	if !h.Admits("Bearer river-stone") || h.Admits("Bearer river-ston") || (Hash{}).Admits("Bearer ") {
		t.Error("a token alone admits another one, or the zero hash admits somebody")
	}
	if !strings.HasPrefix(bearer.Challenge(), "Bearer ") || !strings.HasPrefix(basic.Challenge(), "Basic ") {
		t.Errorf("challenges %q, %q", bearer.Challenge(), basic.Challenge())
	}
}

func TestFrom(t *testing.T) {
	trust := must(TrustSpec{By: "address", From: []string{"192.0.2.16/28", "2001:db8::/64", "198.51.100.7"}}.build(nil))
	for addr, want := range map[string]bool{
		"192.0.2.15": false, "192.0.2.16": true, "192.0.2.31": true, "192.0.2.32": false, "::ffff:192.0.2.20": true,
		"2001:db8::1": true, "2001:db8:0:1::1": false, "198.51.100.7": true, "198.51.100.8": false, "127.0.0.1": false,
	} {
		if got := trust.AdmitsFrom(netip.MustParseAddr(addr)); got != want {
			t.Errorf("%s: %v", addr, got)
		}
	}
	if trust.AdmitsFrom(netip.Addr{}) {
		t.Error("an address that cannot be told is let in")
	}
}
