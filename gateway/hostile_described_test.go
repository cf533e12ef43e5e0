package gateway_test

import (
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"rowbell/gateway"
	"rowbell/gateway/profile"
)

// The secrets of the sample networks in testdata/gateways.
const (
	oldSecret  = "whsec_cGFkZHktYmVsbC1zYW1wbGUtc2VjcmV0LTAw"
	kilnSecret = "clay-pot"
	adzeSecret = "flat-blade-of-old-iron"
	adzeOld    = "flat-blade"
	weirSecret = "slow-water"
	marlSecret = "grey-soil"

	rookSecret  = "black-feather"
	sedgeSecret = "sharp-edge"
)

// sampleSecrets are parts of what the log must not contain: secrets, signatures, and addresses of callers.
var sampleSecrets = []string{
	signingSecret, oldSecret, kilnSecret, adzeOld, weirSecret, marlSecret, rookSecret, sedgeSecret,
	"v1,", "192.0.2.", "203.0.113.", "Basic ",
}

// sampleNetworks returns all networks of testdata/gateways.
func sampleNetworks(t testing.TB) (list []profile.Profile) {
	t.Helper()
	env := map[string]string{
		"HERON_SECRET": signingSecret, "HERON_SECRET_OLD": oldSecret, "HERON_SEND": "reed-and-water",
		"KILN_SECRET": kilnSecret, "ADZE_SECRET": adzeSecret, "ADZE_SECRET_OLD": adzeOld,
		"WEIR_SECRET": weirSecret, "MARL_SECRET": marlSecret,
		"ROOK_SECRET": rookSecret, "SEDGE_SECRET": sedgeSecret,
	}
	for line := range strings.Lines(string(must(os.ReadFile("../testdata/gateways/secrets.env")))) {
		if name, secret, _ := strings.Cut(strings.TrimSpace(line), "="); env[name] == "" {
			env[name] = secret
		}
	}
	files, err := filepath.Glob("../testdata/gateways/*.toml")
	if err != nil || len(files) < 18 {
		t.Fatalf("%d networks found, %v", len(files), err)
	}
	for _, file := range files {
		var described struct {
			Gateways map[string]profile.Spec `toml:"gateways"`
		}
		ok(t, toml.Unmarshal(must(os.ReadFile(file)), &described))
		for name, spec := range described.Gateways {
			spec.CountryCode = "44"
			list = append(list, must(spec.Build(name, func(name string) (string, error) { return env[name], nil })))
		}
	}
	return list
}

// openDescribedWire returns a wireFixture with the sample networks. The gateway is behind two proxies; the first is on
// this machine.
func openDescribedWire(t *testing.T) *wireFixture {
	t.Helper()
	return openWire(t, func(o *gateway.Options) {
		o.DialCode = "*123#"
		for _, proxy := range []string{"127.0.0.1/32", "198.51.100.0/24"} {
			o.Proxy.Trusted = append(o.Proxy.Trusted, netip.MustParsePrefix(proxy))
		}
		o.Networks = append(o.Networks, sampleNetworks(t)...)
	})
}

// The network heron signs its calls. These calls have no signature, a wrong one, or a right one with hostile values.
// The rules for signatures are those of Standard Webhooks 1.0.0, "Signature scheme" and "Verifying webhook
// authenticity"; the calls themselves are invented.
//
//revive:disable-next-line:function-length the rows of one table
func TestHostileSignatures(t *testing.T) {
	t.Parallel()
	const ussd, sms, receipt = "/in/heron/ussd", "/in/heron/sms", "/in/heron/receipt"
	dial := func(visit string) string {
		return fmt.Sprintf(`{"line":{"caller":"+447700900123","visit":%q,"code":"*123#"},`, visit) +
			`"turn":{"kind":"opens","words":"","no":0}}`
	}
	words := func(ref, text string) string {
		return fmt.Sprintf(`{"note":{"ref":%q,"author":"+447700900123","words":%q}}`, ref, text)
	}
	slip := func(ref, fate, more string) string {
		return fmt.Sprintf(`{"slip":{"ref":%q,"fate":%q%s}}`, ref, fate, more)
	}
	sign := func(id string, at time.Time, body string, secret ...string) string {
		return must(profile.Sign(append(secret, signingSecret)[0], id, at, []byte(body)))
	}
	// sends returns a call with the three headers of a signature, without those whose value is "".
	sends := func(path, id, stamp, signature, body string, lines ...string) string {
		lines = append([]string{typeJSON}, lines...)
		for i, v := range []string{id, stamp, signature} {
			if v != "" {
				lines = append(lines, [...]string{"webhook-id", "webhook-timestamp", "webhook-signature"}[i]+": "+v)
			}
		}
		return bare("POST", path, lines, body)
	}
	stamp := func(at time.Time) string { return fmt.Sprint(at.Unix()) }
	signed := func(path, id, body string, lines ...string) string {
		return sends(path, id, stamp(morning), sign(id, morning, body), body, lines...)
	}
	signedAt := func(when time.Time) string {
		return sends(ussd, "time", stamp(when), sign("time", when, dial("time")), dial("time"))
	}
	now, body, soon := stamp(morning), dial("v"), morning.Add(time.Minute)
	later := stamp(soon)
	good := sign("i", morning, body)
	value := strings.TrimPrefix(good, "v1,")
	raw := must(base64.StdEncoding.DecodeString(value))
	const needed, wrong, header = "401 are needed", "401 not right for this body", "webhook-signature: "
	const noTime, tooFar = "401 not a time in whole Unix seconds", "401 too far from the time"
	// by returns a call with this signature, which may be wrong for the body.
	by := func(signature string) string { return sends(ussd, "i", now, signature, body) }
	f := openDescribedWire(t)
	f.sendEach([]hostile{
		{"nothing is signed", sends(ussd, "", "", "", body), needed},
		{"nothing is signed, and no JSON", sends(ussd, "", "", "", "{"), needed},
		{"no id", sends(ussd, "", now, good, body), needed},
		{"no time", sends(ussd, "i", "", good, body), needed},
		{"no signature", by(""), needed},
		{"a signature of spaces", by(" \t "), needed},
		{"the token of another network", sends(ussd, "", "", "", body, "Authorization: Bearer "+token), needed},
		{"the secret as a token", sends(ussd, "", "", "", body, "Authorization: Bearer "+signingSecret), needed},
		{"another id", sends(ussd, "j", now, good, body), wrong},
		{"another time", sends(ussd, "i", stamp(morning.Add(time.Second)), good, body), wrong},
		{"another body", sends(ussd, "i", now, good, dial("w")), wrong},
		{"a space more", sends(ussd, "i", now, good, body+" "), wrong},
		{"the time moved into the id", sends(ussd, "i."+now, "1", good, body), wrong},
		{"the body moved into the time", sends(ussd, "i", now+".{", good, body), noTime},
		{"a secret that nobody has", by(sign("i", morning, body, "whsec_"+strings.Repeat("A", 32))), wrong},
		{"another version only", by("v1a," + value), wrong},
		{"the version in capitals", by("V1," + value), wrong},
		{"no version", by(value), wrong},
		{"no value", by("v1,"), wrong},
		{"the value in hexadecimal digits", by("v1," + hex.EncodeToString(raw)), wrong},
		{"the value cut short", by("v1," + base64.StdEncoding.EncodeToString(raw[:31])), wrong},
		{"the value and more", by(good + "AAAA"), wrong},
		{"a space after the comma", by("v1, " + value), wrong},
		{"commas between signatures", by("v1,AAAA," + good), wrong},
		{"seventeen signatures, the last right", by(strings.Repeat("v1,AAAA ", 16) + good), wrong},
		{"a signature as long as headers may be", by("v1," + strings.Repeat("A", 12<<10)), wrong},
		{"two headers, the first wrong", sends(ussd, "i", now, "", body, header+"v1,AAAA", header+good), wrong},
		{"two ids, the first wrong", sends(ussd, "", now, good, body, "webhook-id: j", "webhook-id: i"), wrong},
		{"a time with a plus", sends(ussd, "i", "+"+now, good, body), noTime},
		{"a time with a zero before it", sends(ussd, "i", "0"+now, good, body), noTime},
		{"a time with a point", sends(ussd, "i", now+".0", good, body), noTime},
		{"a time past all bounds", sends(ussd, "i", strings.Repeat("9", 30), good, body), noTime},
		{"a time in words", sends(ussd, "i", "2026-06-01T06:00:00Z", good, body), noTime},
		{"a time in milliseconds, signed", signedAt(time.Unix(morning.Unix()*1000, 0)), tooFar},
		{"the least time, signed", signedAt(time.Unix(-1<<63, 0)), tooFar},
		{"six minutes old", signedAt(morning.Add(-6 * time.Minute)), tooFar},
		{"six minutes ahead", signedAt(morning.Add(6 * time.Minute)), tooFar},
		{"an id too long, signed", signed(ussd, strings.Repeat("i", 129), body), "400 webhook-id"},
		{"an id that cannot be seen, signed", signed(ussd, "i\u200b", body), "400 webhook-id"},
		{"an id with a dot, signed", signed(ussd, "i.j", body), wrong},

		// These calls have a correct signature, and are refused for another reason.
		{"an empty body", signed(ussd, "empty", ""), "400 not a JSON object"},
		{"a name twice", signed(ussd, "twice", swap(body, `"code"`, `"caller":"+447700900124","code"`)), "400 twice"},
		{"UTF-16", signed(ussd, "utf16", "\xfe\xff\x00{\x00}"), "400 not UTF-8"},
		{"another charset", swap(signed(ussd, "charset", body), typeJSON, typeJSON+"; charset=utf-7"), "415 utf-8"},
		{"a dialogue's call sent as a text", signed(sms, "i", body), "400 /note/ref"},
		{"a text sent as a dialogue's call", signed(ussd, "i", words("r", "menu")), "400 /line/caller"},
		{"a receipt sent as a text", signed(sms, "i", slip("r", "landed", "")), "400 /note/ref"},
		{"to another network", signed("/in/adze/ussd", "i", body), "401 X-Adze-Mark must be there once"},
		{"GET", swap(signed(ussd, "i", body), "POST", "GET"), "405 Use POST"},
		{"a phone with a point",
			signed(ussd, "point", swap(body, `"+447700900123"`, "447700900123.0")), "400 /line/caller"},
		{"a giant step", signed(ussd, "giant", swap(body, `"no":0`, `"no":1e9`)), "400 /turn/no"},
		{"a word that nobody described", signed(ussd, "word", swap(body, "opens", "begin")), "400 /turn/kind"},
		{"values in the query", swap(signed(ussd, "q", `{}`), ussd, ussd+"?caller=1&visit=v"), "400 /line/caller"},

		// These calls have a correct signature and are accepted.
		{"a call", signed(ussd, "first", dial("first")), `200 "hold":true`},
		{"the call again", signed(ussd, "first", dial("first")), `same 200 "hold":true`},
		{"the call again, signed later",
			sends(ussd, "first", later, sign("first", soon, dial("first")), dial("first")), `same 200 "hold":true`},
		{"its id with another body, signed", signed(ussd, "first", dial("other")), `same 200 "visit":"other"`},
		{"two signatures, the last right",
			sends(ussd, "first", now, "v1,AAAA v2,x "+sign("first", morning, body), body), `same 200 "hold":true`},
		{"the old secret", sends(ussd, "old", now, sign("old", morning, body, oldSecret), body), `200 "hold":true`},
		{"a text", signed(sms, "text", words("r1", "help")), `200 "kept":"r1"`},
		{"the text again", signed(sms, "text", words("r1", "help")), `same 200 "kept":"r1"`},
		{"the text's id with other words", signed(sms, "text", words("r1", "stop")), `same 200 "kept":"r1"`},
		{"a reference that breaks out of JSON", signed(sms, "out", words(`","x":"`, "help")), `200 \",\"x\":\"`},
		{"a visit that breaks out of JSON", signed(ussd, "out", dial(`"},{{.Text}}`)), `200 \"},{{.Text}}`},
		{"a receipt for no text", signed(receipt, "r1", slip("none", "landed", "")), "same 204"},
		{"a receipt in a word that nobody described", signed(receipt, "r2", slip("none", "eaten", "")), "same 204"},
		{"a receipt from past all time",
			signed(receipt, "r3", slip("none", "lost", `,"when":99999999999999999999,"why":"{{.}}"`)), "same 204"},
	})
	assertLog(t, f, sampleSecrets...)
}

// These hostile calls come from the sample networks with formats of their own, which use HTTP basic authentication, XML
// bodies, lists of allowed addresses, the text of the whole session in each call, other charsets, or texts in
// hexadecimal digits.
//
//revive:disable-next-line:function-length the rows of one table
func TestHostileDescribed(t *testing.T) {
	t.Parallel()
	basic := func(credentials string) string {
		return "Authorization: Basic " + base64.StdEncoding.EncodeToString([]byte(credentials))
	}
	kiln := func(authorization, body string) string {
		return bare("POST", "/in/kiln/ussd", []string{"Content-Type: text/xml", authorization}, body)
	}
	pot := func(piece, stage, mark string) string {
		return fmt.Sprintf(`<pot xmlns="urn:example:clay" of="+447700900123" batch="b" piece="%s" stage="%s">`+
			`<mark>%s</mark></pot>`,
			piece, stage, mark)
	}
	clay := pot("n", "thrown", "")
	fire := func(body string) string { return kiln(basic("kiln:"+kilnSecret), body) }
	from := func(addresses ...string) (lines []string) {
		for _, a := range addresses {
			lines = append(lines, "X-Forwarded-For: "+a)
		}
		return lines
	}
	tern := func(query string, lines ...string) string {
		return bare("GET", "/in/tern/ussd?"+query, lines, "")
	}
	fly := func(flight, track string, address ...string) string {
		return tern("bird=447700900123&flight="+flight+"&track="+track, from(append(address, "192.0.2.9")[0])...)
	}
	const inside, pool = "192.0.2.9", "bank=07700900123&pool=p&ripple=1"
	start := "bird=447700900123&flight=x&track="
	via := func(addresses ...string) string { return tern(start, from(addresses...)...) }
	weir := func(kind, secret, address, body string) string {
		return bare("POST", "/in/weir/ussd", append(from(address), kind, "Authorization: Bearer "+secret), body)
	}
	const asForm = "Content-Type: application/x-www-form-urlencoded"
	as := func(charset string) string { return weir(asForm+charset, weirSecret, inside, pool) }
	bank := func(phone string) string { return weir(asForm, weirSecret, inside, "bank="+phone+"&pool=p&ripple=1") }
	drop := func(body string, lines ...string) string {
		lines = append(lines, "Content-Type: text/plain; charset=iso-8859-1",
			"Authorization: Bearer "+weirSecret, "X-Forwarded-For: 192.0.2.9")
		return bare("POST", "/in/weir/sms", lines, body)
	}
	adze := func(hand, blow, chips, count string) string {
		body := fmt.Sprintf(`{"hand":%s,"swing":9007199254740993,"blow":%q,"chips":%s,"count":%s}`,
			hand, blow, chips, count)
		return bare("POST", "/in/adze/ussd", append(markedAdze(adzeSecret, "", morning, body), typeJSON), body)
	}
	chop := func(chips string) string { return adze(`"447700900123"`, "next", encode(chips), "1") }
	marl := func(furrow, phase, steps string) string {
		return bare("POST", "/in/marl/ussd", []string{asForm, "Authorization: Bearer " + marlSecret},
			"field=line-447700900123&gate=%2A123%23&furrow="+furrow+"&phase="+phase+"&steps="+steps)
	}
	bomb := `<!DOCTYPE p [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;"><!ENTITY c "&b;&b;&b;">]>`
	const denied, notOn = "403 does not call from this address", "400 does not go on"
	f := openDescribedWire(t)
	f.sendEach([]hostile{
		// The callers of these calls must prove who they are by a name and a password (HTTP basic, RFC 7617).
		{"basic: nothing", kiln("X-A: b", clay), "401 Basic"},
		{"basic: another password", kiln(basic("kiln:clay"), clay), "401 Basic"},
		{"basic: another name", kiln(basic("Kiln:"+kilnSecret), clay), "401 Basic"},
		{"basic: no name", kiln(basic(":"+kilnSecret), clay), "401 Basic"},
		{"basic: no password", kiln(basic("kiln:"), clay), "401 Basic"},
		{"basic: no colon", kiln(basic("kiln"+kilnSecret), clay), "401 Basic"},
		{"basic: a colon more", kiln(basic("kiln:"+kilnSecret+":"), clay), "401 Basic"},
		{"basic: right, so that the guesses before count no more", kiln(basic("kiln:"+kilnSecret), clay), "200"},
		{"basic: NUL behind it", kiln(basic("kiln:"+kilnSecret+"\x00"), clay), "401 Basic"},
		{"basic: not base64", kiln("Authorization: Basic kiln:"+kilnSecret, clay), "401 Basic"},
		{"basic: as a token", kiln("Authorization: Bearer "+kilnSecret, clay), "401 Basic"},
		{"basic: by another scheme", kiln(swap(basic("kiln:"+kilnSecret), "Basic", "Digest"), clay), "401 Basic"},
		{"basic: only a scheme", kiln("Authorization: Basic", clay), "401 Basic"},
		{"basic: as long as headers may be", kiln(basic("kiln:"+strings.Repeat("x", 8<<10)), clay), "401 Basic"},
		{"basic: wrong, then right", kiln(basic("kiln:x")+"\r\n"+basic("kiln:"+kilnSecret), clay), "401 Basic"},

		// These calls have XML bodies.
		{"xml: a document type", fire(bomb + pot("n", "thrown", "&c;")), "400 document type"},
		{"xml: an entity that nobody declared", fire(pot("n", "thrown", "&c;")), "400 not well-formed"},
		{"xml: a file", fire(`<!DOCTYPE p SYSTEM "file:///etc/passwd">` + clay), "400 document type"},
		{"xml: an order to a program", fire(`<?php x?>` + clay), "400 declaration"},
		{"xml: another charset", fire(`<?xml version="1.0" encoding="UTF-7"?>` + clay), "400 charset"},
		{"xml: UTF-16", fire("\xff\xfe<\x00p\x00"), "400 not UTF-8"},
		{"xml: an attribute twice", fire(swap(clay, "<pot", `<pot of="+447700900124"`)), "400 not well-formed"},
		{"xml: an element twice", fire(pot("n", "marked", "1</mark><mark>2")), "400 more than one"},
		{"xml: two roots", fire(clay + clay), "400 not well-formed"},
		{"xml: no root", fire("447700900123"), "400 not well-formed"},
		{"xml: of great depth", fire(strings.Repeat("<pot>", 12_000)), "400 too deep"},
		{"xml: of great breadth", fire("<pot>" + strings.Repeat("<mark/>", 9_000) + "</pot>"), "400 too many"},
		{"xml: many attributes", fire("<pot" + strings.Repeat(` of="1"`, 8_000) + "/>"), "400 not well-formed"},
		{"xml: a prefix that nobody declared", fire(`<x:pot of="+447700900123"/>`), "400"},
		{"xml: a character that is none", fire(pot("n", "thrown", "&#1;")), "400 not well-formed"},
		{"xml: an include",
			fire(pot("inc", "thrown",
				`<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file:///etc/passwd"/>`)),
			`200 fire="on"`},
		{"xml: a batch that breaks out",
			fire(swap(pot("out", "thrown", ""), `"b"`, `"&quot;&gt;&lt;x a=&quot;"`)), "200 &#34;&gt;&lt;x a=&#34;"},
		{"xml: a piece, first", fire(pot("p1", "thrown", "")), `200 fire="on"`},
		{"xml: the piece again, with other marks", fire(pot("p1", "marked", "2")), `same 200 fire="on"`},

		// These calls come through two proxies to a network with a list of allowed addresses.
		{"address: the proxy's own", tern(start), denied},
		{"address: another", via("203.0.113.5"), denied},
		{"address: a lie, and then its own", via("192.0.2.9, 203.0.113.5"), denied},
		{"address: a lie in a header of its own", via("192.0.2.9", "203.0.113.5"), denied},
		{"address: a lie behind a proxy that is none", via("192.0.2.9, 203.0.113.5, 198.51.100.7"), denied},
		{"address: with a port", via("192.0.2.9:80"), denied},
		{"address: in brackets", via("[2001:db8::7]"), denied},
		{"address: garbage behind it", via("192.0.2.9, unknown"), denied},
		{"address: nothing but proxies", via("198.51.100.7, 127.0.0.1"), denied},
		{"address: a neighbour", via("192.0.2.16"), denied},
		{"address: a neighbour in IPv6", via("2001:db8::8"), denied},
		{"address: in other headers",
			tern(start, "Forwarded: for=192.0.2.9", "X-Real-IP: 192.0.2.9", "X-Client-IP: 192.0.2.9"), denied},
		{"address: with the token of another", tern(start, "Authorization: Bearer "+token), denied},
		{"address: through two proxies", fly("two", "", "192.0.2.9, 198.51.100.7"), "200 X-Aloft: yes"},
		{"address: IPv6", fly("six", "", "2001:0DB8::0007"), "200 X-Aloft: yes"},
		{"address: IPv4 as IPv6", fly("map", "", "::ffff:192.0.2.9"), "200 X-Aloft: yes"},
		{"address and token: only the token", weir(asForm, weirSecret, "203.0.113.5", pool), denied},
		{"address and token: only the address", weir(asForm, "x", inside, pool), "401 Bearer"},

		// Each call of these networks must contain all that was entered in the session so far. A call whose text
		// neither continues nor repeats the text of an earlier call is refused.
		{"whole: a session begins", fly("f1", ""), "200 X-Aloft: yes"},
		{"whole: an entry", fly("f1", "1"), "200 X-Aloft: yes"},
		{"whole: the entry again", fly("f1", "1"), "same 200 X-Aloft: yes"},
		{"whole: another", fly("f1", "1*1"), "200 X-Aloft: yes"},
		{"whole: it shrinks to what was", fly("f1", "1"), "same 200 X-Aloft: yes"},
		{"whole: it shrinks to what never was", fly("f1", "9"), notOn},
		{"whole: it changes", fly("f1", "1*2*1"), notOn},
		{"whole: it goes on without the separator", fly("f1", "1*11"), notOn},
		{"whole: another phone in the session", swap(fly("f1", "1*1*1"), "0123", "0124"), "200 X-Aloft: "},
		{"whole: the separator as an entry", fly("f1", "1*1**"), "200 X-Aloft: yes"},
		{"whole: nothing but separators", fly("stars", strings.Repeat("*", 1_600)), "200 X-Aloft: "},
		{"whole: as long as may be", fly("long", "1"+strings.Repeat("*1", 799)), "200 X-Aloft: "},
		{"whole: longer than may be", fly("long", "1"+strings.Repeat("*1", 800)), "400 track"},
		{"whole: a phone twice", tern(start+"&bird=447700900124", from("192.0.2.9")...), "400 more than one"},
		{"whole: a bad percent", tern("bird=%zz", from("192.0.2.9")...), "400 not a form"},
		{"whole: not UTF-8", fly("utf", "%ff"), "400 track"},
		{"whole: in a body", bare("GET", "/in/tern/ussd", append(from("192.0.2.9"), asForm), start), "400 bird"},
		{"whole: by POST", bare("POST", "/in/tern/ussd?"+start, from("192.0.2.9"), ""), "405 Use GET"},
		{"whole: a text, not described", bare("POST", "/in/tern/sms?"+start, from("192.0.2.9"), ""), "404 not set up"},
		{"whole: begun by a word", marl("17", "enter", ""), "200 <wait/>"},
		{"whole: an entry behind what never was", marl("17", "walk", "1~1"), "200 <wait/>"},
		{"whole: it shrinks, with a word", marl("17", "walk", "2"), notOn},
		{"whole: a session that never began", marl("18", "walk", "%00"), "400 steps"},

		// These calls have bodies in a charset other than UTF-8.
		{"latin-1: said to be UTF-8", as("; charset=utf-8"), "415 iso-8859-1"},
		{"latin-1: said to be UTF-7", as("; charset=utf-7"), "415 iso-8859-1"},
		{"latin-1: two charsets", as("; charset=iso-8859-1; charset=utf-8"), "415 iso-8859-1"},
		{"latin-1: a phone in UTF-7", bank("%2BACs-447700900123"), "400 bank"},
		{"latin-1: an overlong plus", bank("%C0%AB447700900123"), "400 bank"},
		{"text: no id", drop("aide", "X-Bank: 07700900123"), "400 header:X-Drop"},
		{"text: two ids", drop("aide", "X-Bank: 07700900123", "X-Drop: a", "X-Drop: b"), "400 more than one"},
		{"text: a phone not in UTF-8", drop("aide", "X-Bank: +44\xa07700900123", "X-Drop: a"), "400 header:X-Bank"},
		{"text: the id in the query", swap(drop("aide", "X-Bank: 07700900123"), "/sms", "/sms?X-Drop=a"), "400 X-Drop"},

		// These calls have texts in hexadecimal digits.
		{"hex: half an octet", chop("003"), "400 hexadecimal"},
		{"hex: half a character", chop("00310" + "0"), "400 UCS-2"},
		{"hex: no digits", chop("zz"), "400 hexadecimal"},
		{"hex: a sign before it", chop("0x31"), "400 hexadecimal"},
		{"hex: half a pair", chop("D83C"), "400 UCS-2"},
		{"hex: NUL", chop("0000"), "400 NUL"},
		{"hex: as long as the body may be", chop(strings.Repeat("0031", 15_000)), "400 longer than"},
		{"hex: a list", adze(`"447700900123"`, "next", `["0031"]`, "1"), "400 must be a string"},
		{"hex: a phone with a point", adze("447700900123.0", "first", `""`, "0"), "400 must be a string"},
		{"hex: a phone below 0", adze("-447700900123", "first", `""`, "0"), "400 must be a string"},
		{"hex: a giant step", adze(`"447700900123"`, "next", `"0031"`, "1048577"), "400 whole number"},
		{"hex: a step below 0", adze(`"447700900123"`, "next", `"0031"`, "-1"), "400 whole number"},
		{"hex: a word in other letters", adze(`"447700900123"`, "First", `""`, "0"), "400 none of the words"},
		{"hex: template letters", chop(fmt.Sprintf("%04X%04X%04X", '{', '{', '.')), `201 "again":true`},
	})
	for _, name := range []string{"heron", "kiln", "tern", "weir", "adze", "marl"} {
		w := f.h.get("/in/" + name + "/" + strings.Repeat("x", 9))
		if w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), name) {
			t.Errorf("%s: %d %s", name, w.Code, w.Body)
		}
	}
	assertLog(t, f, sampleSecrets...)
}

// For any recorded request, Understand returns values within their bounds, or an error.
func FuzzUnderstand(f *testing.F) {
	files, err := filepath.Glob("../testdata/gateways/*/*.http")
	if err != nil || len(files) == 0 {
		f.Fatalf("no recorded requests: %v", err)
	}
	for _, file := range files {
		f.Add(must(os.ReadFile(file)))
	}
	networks := append(sampleNetworks(f), profile.Default("local"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		for _, p := range networks {
			r, err := gateway.ReadSample(raw)
			if err != nil {
				return
			}
			u, err := gateway.Understand(p, r, time.Unix(1_800_000_000, 0))
			if err != nil {
				continue
			}
			for _, i := range u.Items {
				long := utf8.RuneCountInString(i.Entry) > 1600
				bad := !utf8.ValidString(i.Entry) || long || strings.ContainsRune(i.Entry, 0)
				if i.Wrong == nil && bad {
					t.Fatalf("let through: %q", i.Entry)
				}
			}
		}
	})
}
