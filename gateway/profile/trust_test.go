package profile

import (
	"encoding/base64"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// This test vector is in the documentation and the tests of the libraries of Standard Webhooks 1.0.0.
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
	// first and last are the first and the last second that an int64 can hold. The time between now and either of these
	// seconds is too long for a time.Duration.
	const stamp, first, last = "1614265330", "-9223372036854775808", "9223372036854775807"
	at := func(off int64) int64 { return vectorTime + off }
	tests := []struct {
		name                string
		id, stamp, sign, by string
		now                 int64
		want                string // text that the error must contain; "" = the signature is right
	}{
		{"the vector", vectorID, stamp, vectorSign, vectorBody, at(0), ""},
		{"by the other secret", vectorID, stamp, byOther, vectorBody, at(0), ""},
		{"one of two", vectorID, stamp, "v1,AAAA " + vectorSign, vectorBody, at(0), ""},
		{"behind another version", vectorID, stamp, "v1a,AAAA " + vectorSign, vectorBody, at(0), ""},
		{"five minutes late", vectorID, stamp, vectorSign, vectorBody, at(300), ""},
		{"five minutes early", vectorID, stamp, vectorSign, vectorBody, at(-300), ""},
		{"later", vectorID, stamp, vectorSign, vectorBody, at(301), "too far"},
		{"earlier", vectorID, stamp, vectorSign, vectorBody, at(-301), "too far"},
		{"the first second of int64", vectorID, first, signed(first), vectorBody, at(0), "too far"},
		{"the last second of int64", vectorID, last, signed(last), vectorBody, at(0), "too far"},
		{"not base64", vectorID, stamp, "v1,*", vectorBody, at(0), "not right"},
	}
	for _, tt := range tests {
		h := http.Header{}
		h.Set("webhook-id", tt.id)
		h.Set("webhook-timestamp", tt.stamp)
		h.Set("webhook-signature", tt.sign)
		err := trust.Verify(h, []byte(tt.by), time.Unix(tt.now, 0))
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
	if got, err := Sign(vectorSecret, vectorID, time.Unix(vectorTime, 0), []byte(vectorBody)); got != vectorSign ||
		err != nil {
		t.Errorf("signed %q, %v; want %q", got, err, vectorSign)
	}
}

func TestBearerAndBasic(t *testing.T) {
	look := secretsOf(map[string]string{"A": "river-stone", "B": "reed:bank", "C": "pass word"})
	bearer := must(TrustSpec{By: "bearer", Secrets: []string{"A", "B"}}.build(look))
	basic := must(TrustSpec{By: "basic", User: "kiln", Secrets: []string{"B", "C"}}.build(look))
	b64 := func(s string) string { return base64.StdEncoding.EncodeToString([]byte(s)) }
	for _, tt := range []struct {
		name   string
		trust  *Trust
		header string
		want   bool
	}{
		{"first", bearer, "Bearer river-stone", true},
		{"second", bearer, "bearer reed:bank", true}, // a scheme in small letters is right (RFC 9110 section 11.1)
		{"spaces around", bearer, "Bearer  river-stone ", true},
		// The password is everything after the first colon (RFC 7617 section 2), so a colon in the password must be
		// accepted.
		{"password with a colon", basic, "Basic " + b64("kiln:reed:bank"), true},
		{"second password", basic, "basic " + b64("kiln:pass word"), true},
	} {
		if got := tt.trust.Admits(tt.header); got != tt.want {
			t.Errorf("%s: %v", tt.name, got)
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
