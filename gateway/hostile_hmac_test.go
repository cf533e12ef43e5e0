package gateway_test

import (
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"strings"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/profile"
)

// hmacOf is the HMAC-SHA256 (RFC 2104) of what a network signs. The tests make signatures anew with it, and not with
// the package that checks them.
func hmacOf(secret, signed string) []byte {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(signed))
	return mac.Sum(nil)
}

// markedAdze returns the headers by which the network adze signs a USSD call at the instant at. It signs the path, or
// the USSD path if path is "".
func markedAdze(secret, path string, at time.Time, body string) []string {
	mark := hmacOf(secret, fmt.Sprintf("POST %s\n%d.%s", cmp.Or(path, "/in/adze/ussd"), at.UnixMilli(), body))
	return []string{fmt.Sprintf("X-Adze-Mark: mark %x", mark), fmt.Sprintf("X-Adze-Struck: %d", at.UnixMilli())}
}

// hmacNetworks returns three networks that sign their calls. The calls of moss have no time. The calls of fern have one
// and neither an id nor a step. Those of rill are a GET, whose query is signed.
func hmacNetworks() (list []profile.Profile) {
	begins := func(s *profile.USSDSpec) { s.Begins = "new-session" }
	moss, fern, rill := formUSSD(begins), formUSSD(begins), formUSSD(func(s *profile.USSDSpec) {
		s.Begins, s.Method, s.Body = "new-session", "GET", "query"
	})
	signs := func(secret string, s profile.HMACSpec) *profile.TrustSpec {
		return &profile.TrustSpec{By: "hmac", Secrets: []string{secret}, HMACSpec: s}
	}
	moss.Trust = signs("MOSS", profile.HMACSpec{Header: "X-Moss"})
	fern.Trust = signs("FERN", profile.HMACSpec{
		Header: "X-Fern", Prefix: "v=", TimeHeader: "X-Fern-Time", Signs: "{{.Time}}:{{.Body}}"})
	rill.Trust = signs("RILL", profile.HMACSpec{Header: "Authorization", Prefix: "Rill ", Coding: "base64",
		TimeHeader: "X-Rill-Time", Time: "rfc3339", Signs: "{{.Query}}\n{{.Time}}"})
	for name, spec := range map[string]profile.Spec{"moss": moss, "fern": fern, "rill": rill} {
		spec.CountryCode = "44"
		list = append(list, must(spec.Build(name, func(env string) (string, error) { return env + "-secret", nil })))
	}
	return list
}

// Calls without a signature, with a wrong one, with a right one for another call, and recorded calls that come again.
//
//revive:disable-next-line:function-length the rows of one table
func TestHostileHMAC(t *testing.T) {
	t.Parallel()
	const typeForm = "Content-Type: application/x-www-form-urlencoded"
	const ussd, body = "/in/adze/ussd", `{"hand":"447700900123","swing":"s","blow":"first","chips":"","count":0}`
	adze := func(body string, lines ...string) string { return bare("POST", ussd, append(lines, typeJSON), body) }
	marked := func(at time.Time) string { return adze(body, markedAdze(adzeSecret, "", at, body)...) }
	good := markedAdze(adzeSecret, "", morning, body)
	mark, struck := good[0], good[1]
	hexMark := strings.TrimPrefix(mark, "X-Adze-Mark: mark ")
	const missing, wrong = "401 X-Adze-Mark must be there once", "401 not right"
	const noTime = "401 X-Adze-Struck must be there"
	fern := func(at time.Time, form string) string {
		seal := hmacOf("FERN-secret", fmt.Sprintf("%d:%s", at.Unix(), form))
		lines := []string{fmt.Sprintf("X-Fern: v=%x", seal), fmt.Sprintf("X-Fern-Time: %d", at.Unix()), typeForm}
		return bare("POST", "/in/fern/ussd", lines, form)
	}
	moss := func(form, signed string) string {
		seal := fmt.Sprintf("X-Moss: %x", hmacOf("MOSS-secret", signed))
		return bare("POST", "/in/moss/ussd", []string{seal, typeForm}, form)
	}
	rill := func(query, signed string) string {
		when := morning.Format(time.RFC3339)
		value := base64.StdEncoding.EncodeToString(hmacOf("RILL-secret", signed+"\n"+when))
		return bare("GET", "/in/rill/ussd?"+query, []string{"Authorization: Rill " + value, "X-Rill-Time: " + when}, "")
	}
	const dialled, first = "p=447700900121&s=1&e=*123%23", "p=447700900121&s=1&e=1"
	f := openWire(t, func(o *gateway.Options) {
		o.DialCode = "*123#"
		o.Networks = append(append(o.Networks, sampleNetworks(t)...), hmacNetworks()...)
	})
	f.sendEach([]hostile{
		{"nothing is signed", adze(body), missing},
		{"a token", adze(body, "Authorization: Bearer "+adzeSecret, struck), missing},
		{"two signatures", adze(body, mark, mark, struck), missing},
		{"no time", adze(body, mark), noTime},
		{"two times", adze(body, mark, struck, struck), noTime},
		{"a time in words", adze(body, mark, "X-Adze-Struck: soon"), noTime},
		{"a time with a zero before it", adze(body, mark, strings.Replace(struck, ": ", ": 0", 1)), noTime},
		{"a time with a sign", adze(body, mark, strings.Replace(struck, ": ", ": +", 1)), noTime},
		{"an endless time", adze(body, mark, "X-Adze-Struck: "+strings.Repeat("9", 40)), noTime},
		{"a prefix too few", adze(body, "X-Adze-Mark: "+hexMark, struck), wrong},
		{"the prefix in capitals", adze(body, strings.Replace(mark, " mark", " MARK", 1), struck), wrong},
		{"no value", adze(body, "X-Adze-Mark: mark ", struck), wrong},
		{"no hex", adze(body, "X-Adze-Mark: mark "+strings.Repeat("z", 64), struck), wrong},
		{"half of it", adze(body, strings.TrimSuffix(mark, hexMark[32:]), struck), wrong},
		{"another secret", adze(body, markedAdze("another-secret", "", morning, body)...), wrong},
		{"another body", adze(body+" ", mark, struck), wrong},
		{"another time", adze(body, mark, strings.Replace(struck, "000", "001", 1)), wrong},
		{"another kind of call", adze(body, markedAdze(adzeSecret, "/in/adze/sms", morning, body)...), wrong},
		{"another network", adze(body, markedAdze(adzeSecret, "/in/fern/ussd", morning, body)...), wrong},
		{"an empty body", adze("", mark, struck), wrong},
		{"an empty body, signed", adze("", markedAdze(adzeSecret, "", morning, "")...), "400 not a JSON object"},
		{"a recorded call, later", marked(morning.Add(-5*time.Minute - time.Second)), "401 too far"},
		{"from the future", marked(morning.Add(5*time.Minute + time.Second)), "401 too far"},
		{"from the end of time", marked(time.Unix(253402300799, 0)), "401 too far"},
		{"the oldest that counts", marked(morning.Add(-5 * time.Minute)), `201 "again":true`},
		{"signed by the old secret", adze(body, markedAdze(adzeOld, "", morning, body)...), `same 201 "again":true`},
		{"in capitals", adze(body, "X-Adze-Mark: mark "+strings.ToUpper(hexMark), struck), `same 201 "again":true`},

		{"fern: dialled", fern(morning, dialled), "200 +rowbell"},
		{"fern: an entry", fern(morning, first), "200 +"},
		{"fern: the entry recorded and sent again", fern(morning, first), "same 200 +"},
		{"fern: the entry again, a second later", fern(morning.Add(time.Second), first), "200 +"},
		{"fern: another time", strings.Replace(fern(morning, first), "X-Fern-Time: ", "X-Fern-Time: 1", 1), wrong},

		{"moss: another body", moss("p=447700900122&s=1&e=1", first), wrong},
		{"moss: dialled", moss("p=447700900122&s=1&e=*123%23", "p=447700900122&s=1&e=*123%23"), "200 +rowbell"},

		{"rill: another query", rill("p=447700900120&s=1&e=1", first), wrong},
		{"rill: a field more", rill(first+"&x=1", first), wrong},
		{"rill: no query", rill("", first), wrong},
		{"rill: dialled", rill("p=447700900120&s=1&e=*123%23", "p=447700900120&s=1&e=*123%23"), "200 +rowbell"},
	})
	assertLog(t, f, append(sampleSecrets, hexMark, "FERN-secret", "MOSS-secret", "RILL-secret", "Rill ")...)
}

// A signature that covers the call is right for its method, path, network and query only. All
// networks have the same secret, and the body fits texts and receipts.
func TestHostileCovers(t *testing.T) {
	t.Parallel()
	var networks []profile.Profile
	for name, covers := range map[string]string{"reed": "call", "rush": "call", "alder": "body", "birch": ""} {
		spec := profile.Spec{Trust: &profile.TrustSpec{By: "signature", Secrets: []string{"S"}, Covers: covers}}
		networks = append(networks, must(spec.Build(name, func(string) (string, error) { return signingSecret, nil })))
	}
	f := openWire(t, func(o *gateway.Options) { o.Networks = append(o.Networks, networks...) })
	const body = `{"id":"1","phone":"+447700900118","text":"menu","state":"delivered"}`
	call := func(path, signed string) string {
		id := fmt.Sprint(len(path), len(signed), path)
		stamp := fmt.Sprint("webhook-timestamp: ", morning.Unix())
		return bare("POST", path, []string{typeJSON, "webhook-id: " + id, stamp, "webhook-signature: " +
			must(profile.Sign(signingSecret, id, morning, []byte(signed)))}, body)
	}
	const sms, wrong = "/in/reed/sms", "401 not right for this body"
	f.sendEach([]hostile{
		{"to another network", call("/in/rush/sms", "POST "+sms+"\n"+body), wrong},
		{"to another kind", call("/in/reed/receipt", "POST "+sms+"\n"+body), wrong},
		{"by another method", call(sms, "PUT "+sms+"\n"+body), wrong},
		{"with a query that is not signed", call(sms+"?a=1", "POST "+sms+"\n"+body), wrong},
		{"without the query that is signed", call(sms, "POST "+sms+"?a=1\n"+body), wrong},
		{"the body alone", call(sms, body), wrong},
		{"the path alone", call(sms, "POST "+sms+"\n"), wrong},
		{"without the line break", call(sms, "POST "+sms+body), wrong},
		{"the call, where the body is covered", call("/in/alder/sms", "POST /in/alder/sms\n"+body), wrong},
		{"the call", call(sms, "POST "+sms+"\n"+body), "202"},
		{"the call with its query", call(sms+"?a=1", "POST "+sms+"?a=1\n"+body), "202"},
		{"the body, where the body is covered", call("/in/alder/sms", body), "202"},
		{"the body, where nothing is said", call("/in/birch/sms", body), "202"},
	})
}
