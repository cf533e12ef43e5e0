package profile

import (
	"errors"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/pelletier/go-toml/v2"
)

// secretsOf returns a Lookup that finds the environment variables in the map env.
func secretsOf(env map[string]string) Lookup {
	return func(name string) (string, error) {
		if v, ok := env[name]; ok {
			return v, nil
		}
		return "", errors.New(name + " is not set")
	}
}

// build makes the network that the TOML base describes, with the values of the TOML change in place of base's.
func build(t *testing.T, base, change string) (Profile, error) {
	t.Helper()
	var all, over map[string]any
	if err := errors.Join(toml.Unmarshal([]byte(base), &all), toml.Unmarshal([]byte(change), &over)); err != nil {
		t.Fatalf("%s: %v", change, err)
	}
	var merge func(to, from map[string]any)
	merge = func(to, from map[string]any) {
		for name, v := range from {
			inner, ok := to[name].(map[string]any)
			if table, both := v.(map[string]any); ok && both && len(table) > 0 {
				merge(inner, table)
			} else {
				to[name] = v
			}
		}
	}
	merge(all, over)
	whole := must(toml.Marshal(all))
	var s Spec
	if err := toml.NewDecoder(strings.NewReader(string(whole))).DisallowUnknownFields().Decode(&s); err != nil {
		t.Fatalf("%s: %v", change, err)
	}
	return s.Build("heron", secretsOf(map[string]string{
		"A": "s3cret", "B": "old", "EMPTY": "", "LINES": "a\nb", "KEY": vectorSecret,
	}))
}

const (
	baseTrust = `trust = {by = "address", from = ["192.0.2.1"]}
`
	baseUSSD = baseTrust + `[ussd]
body = "json"
phone = "/p"
session = "/s"
entry = "/e"
event = "/k"
events = {begin = ["b"], entry = ["e"], end = ["x"]}
`
	baseWithReply = baseUSSD + `reply = {type = "application/json", body = '{"t":"{{.Text}}","m":{{.More}}}'}`
	baseSMS       = baseTrust + `sms = {body = "form", id = "i", phone = "p", text = "t"}`
	baseReceipt   = baseTrust + `receipt = {body = "json", id = "/i", state = "/s", states = {delivered = ["d"]}}`
	basePush      = `[push]
url = "https://heron.example/s3cret"
type = "application/json"
body = '{"to":"{{.To}}","t":"{{.Text}}"}'
`
)

// mistake is a change to a valid description. want is a part of the error that the change must cause; "" = no error.
type mistake struct{ name, change, want string }

// mistakesIn checks that the error of each mistake names the wrong key and shows no secret and no part of an address.
func mistakesIn(t *testing.T, base string, mistakes []mistake) {
	t.Helper()
	for _, tt := range mistakes {
		_, err := build(t, base, tt.change)
		if tt.want == "" || err == nil {
			if (err == nil) != (tt.want == "") {
				t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
			}
			continue
		}
		if !strings.HasPrefix(err.Error(), "gateways.heron: ") || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
		if strings.Contains(err.Error(), "s3cret") || strings.ContainsFunc(err.Error(), unicode.IsControl) {
			t.Errorf("%s: the error shows what it must not: %q", tt.name, err)
		}
	}
}

func TestMistakesOfANetwork(t *testing.T) {
	mistakesIn(t, "", []mistake{
		{"our own format", baseTrust, ""},
		{"only sending", `push.url = "https://heron.example/"`, ""},
		{"our own format, nobody trusted", "", "trust: say who may call"},
		{"a call, nobody trusted", `sms = {body = "form", id = "i", phone = "p", text = "t"}`, "trust: say who"},
		{"country code", baseTrust + `country_code = "+44"`, "country_code"},
		{"signed, in the query", `trust = {by = "signature", secrets = ["KEY"]}
sms = {body = "json", id = "query:id", phone = "/p", text = "/t"}`, "sms: a signature covers the body only"},
		{"signed, all in the query", `trust = {by = "signature", secrets = ["KEY"]}
sms = {body = "query", id = "i", phone = "p", text = "t"}`, "sms: a signature covers the body only"},
		{"the body signed, all in the query", `trust = {by = "hmac", secrets = ["A"], header = "X"}
sms = {method = "GET", body = "query", id = "i", phone = "p", text = "t"}`, "in the query, and trust.signs has no"},
		{"the query signed, not the body", `trust = {by = "hmac", secrets = ["A"], header = "X", signs = '{{.Query}}'}
sms = {body = "form", id = "i", phone = "p", text = "t"}`, "in the body, and trust.signs has no"},
		{"the query signed, our own format",
			`trust = {by = "hmac", secrets = ["A"], header = "X", signs = '{{.Query}}'}`,
			"ussd: a value is in the body, and trust.signs has no"},
		{"the body signed, our own format", `trust = {by = "hmac", secrets = ["A"], header = "X"}`, ""},
		{"signed with the query", `trust = {by = "signature", secrets = ["KEY"], covers = "call"}
sms = {body = "json", id = "query:id", phone = "/p", text = "/t"}`, ""},
		{"signed with the query, one in a header", `trust = {by = "signature", secrets = ["KEY"], covers = "call"}
sms = {body = "json", id = "header:id", phone = "/p", text = "/t"}`, "sms: a signature covers no header"},
		{"one in a header", `trust = {by = "hmac", secrets = ["A"], header = "X"}
sms = {body = "form", id = "header:I", phone = "p", text = "t"}`, "sms: a signature covers no header"},
	})
}

func TestMistakesOfADialogue(t *testing.T) {
	mistakesIn(t, baseWithReply, []mistake{
		{"as it is", "", ""},
		{"method", `ussd.method = "HEAD"`, "ussd: method"},
		{"GET with a body", `ussd.method = "GET"`, "ussd: body"},
		{"no body", `ussd.body = ""`, "ussd: body: say how"},
		{"unknown body", `ussd.body = "yaml"`, "ussd: body"},
		{"charset", `ussd.charset = "x"`, "ussd: charset"},
		{"coding", `ussd.coding = "hex"`, "ussd: coding"},
		{"time", `ussd.time = "noon"`, "ussd: time"},
		{"no phone", `ussd.phone = ""`, "ussd: phone: say where"},
		{"no session", `ussd.session = ""`, "ussd: session: say where"},
		{"no entry", `ussd.entry = ""`, "ussd: entry: say where"},
		{"no pointer", `ussd.phone = "p"`, "ussd: phone: this is not a JSON pointer"},
		{"no XPath", `ussd = {body = "xml", phone = "/a["}`, "ussd: phone: this is not an XPath"},
		{"an XPath that cannot work", `ussd = {body = "xml", phone = "true()"}`, "ussd: phone: this XPath cannot"},
		{"no word", `ussd = {body = "text", phone = "first"}`, "ussd: phone: this is neither"},
		{"no word 0", `ussd = {body = "text", phone = "0"}`, "ussd: phone: this is neither"},
		{"strip of nothing there", `ussd.strip.number = ["x"]`, "ussd: strip: there is no field number"},
		{"strip nothing", `ussd.strip.phone = [""]`, "ussd: strip.phone"},
		{"words without a field", `ussd.event = ""`, "ussd: events"},
		{"a field without words", `ussd.events = {}`, "ussd: events"},
		{"nothing begins", `ussd = {event = "", events = {}}`, "ussd: event: say how"},
		{"no word begins", `ussd.events.begin = []`, "ussd: events.begin"},
		{"no word enters", `ussd.events.entry = []`, "ussd: events.entry"},
		{"a word for two", `ussd.events.entry = ["b"]`, `ussd: events: entry: "b" stands under begin too`},
		{"an unknown event", `ussd.events.middle = ["m"]`, "ussd: events: there is no middle"},
		{"begins", `ussd.begins = "soon"`, "ussd: begins"},
		{"ends by a word, begins otherwise", `ussd = {begins = "new-session", events = {begin = [], entry = []}}`, ""},
		{"begins in two ways", `ussd.begins = "no-entry"`, "ussd: begins: a word of events begins"},
		{"holds", `ussd.holds = "some"`, "ussd: holds"},
		{"separator of nothing", `ussd.separator = "*"`, "ussd: separator"},
		{"trouble", `ussd.trouble_status = 302`, "ussd: trouble_status"},
	})
	mistakesIn(t, baseTrust, []mistake{
		{"ours with a trouble", `ussd.trouble_status = 99`, "ussd: trouble_status"},
		{"ours with a reply", `ussd.reply = {type = "text/plain", body = "{{.Text}}{{.More}}"}`, ""},
	})
}

func TestMistakesOfTextsAndReceipts(t *testing.T) {
	mistakesIn(t, baseSMS, []mistake{
		{"as it is", "", ""},
		{"no id", `sms.id = ""`, "sms: id"},
		{"reply", `sms.reply.status = 404`, "sms: reply: status"},
		{"coding", `sms.coding = "hex"`, "sms: coding"},
	})
	mistakesIn(t, baseReceipt, []mistake{
		{"as it is", "", ""},
		{"no words", `receipt.states = {}`, "receipt: states.delivered"},
		{"an unknown state", `receipt.states.seen = ["s"]`, "receipt: states: there is no seen"},
		{"a coding", `receipt.coding = "ucs2-hex"`, "receipt: coding"},
	})
}

// A description is refused if its reply would be broken by some text of a screen, such as one with a quotation mark, or
// if the reply lacks the text.
func TestMistakesOfAReply(t *testing.T) {
	reply := func(media, body string) string {
		return "ussd.reply.type = '" + media + "'\nussd.reply.body = '''" + body + "'''"
	}
	js := func(body string) string { return reply("application/json", body) }
	more := func(toml string) string { return js(`{"t":"{{.Text}}","m":{{.More}}}`) + "\n" + toml }
	mistakesIn(t, baseUSSD, []mistake{
		{"none", "", "ussd: reply: say how a screen is answered"},
		{"no body", `ussd.reply = {}`, "ussd: reply: body: without one"},
		{"no type", reply("", "{{.Text}}"), "type: this is not a content type"},
		{"a picture", reply("image/png", "{{.Text}}"), "type: this is none of"},
		{"charset in the type", reply("text/plain; charset=utf-8", "{{.Text}}"), "type: the charset is a setting"},
		{"no text", js(`{"t":"x","m":{{.More}}}`), "body: the text is not in it"},
		{"text without quotes", js(`{"t":{{.Text}},"m":{{.More}}}`), "it is not JSON any more"},
		{"text in single quotes", js(`{"t":"{{.Text}}",'m':{{.More}}}`), "it is not JSON any more"},
		{"a comma behind", js(`{"t":"{{.Text}}","m":{{.More}},}`), "it is not JSON any more"},
		{"quoted twice", js(`{"t":{{printf "%q" .Text}},"m":{{.More}}}`), "body: a function gets no text"},
		{"cut", js(`{"t":"{{slice .Text 0 9}}","m":{{.More}}}`), "a function gets no text"},
		{"always the same", js(`{"t":"{{.Text}}"}`), "say so by {{.More}}"},
		{"a value without a dot", js(`{"t":"{{Text}}"}`), `body: there is no function "Text"; a value has a dot`},
		{"no such value", js(`{"t":"{{.Words}}","m":{{.More}}}`),
			"reply: body: there is no .Words here; there are .Text, .TextHex, .More, .Session, .ID"},
		{"no end", js(`{"t":"{{.Text}}","m":{{if .More}}1}`),
			"ussd: reply: body: an {{if}} or {{range}} has no {{end}}"},
		{"an end too many", js(`{"t":"{{.Text}}","m":{{.More}}{{end}}}`), "body: an {{end}} has no {{if}}"},
		{"an else too many", js(`{"t":"{{.Text}}","m":{{else}}{{.More}}}`), "body: an {{else}} has no {{if}}"},
		{"one bracket too few", js(`{"t":"{{.Text}","m":{{.More}}}`), "body: a {{ has only one } after it"},
		{"no bracket", js(`{"t":"{{.Text`), "body: a {{ has no }} after it"},
		{"a loop", js(`{"t":"{{.Text}}","m":{{if .More}}1{{else}}{{range 9000000000}}{{end}}0{{end}}}`),
			"body: {{range}} goes with a list"},
		{"a template in it", js(`{"t":"{{.Text}}","m":{{.More}}}{{define "a"}}x{{end}}`),
			"{{define}}, {{block}} and {{template}} are not there"},
		{"itself", js(`{"t":"{{.Text}}","m":{{template ""}}}`), "{{define}}, {{block}} and {{template}} are not there"},
		{"XML character data", reply("text/xml", `<r m="{{.More}}"><![CDATA[{{.Text}}]]></r>`), "text is not in it"},
		{"XML open", reply("text/xml", `<r m="{{.More}}">{{.Text}}`), "it is not XML any more"},
		{"XML in a tag", reply("text/xml", `<r {{.Text}} m="{{.More}}"/>`), "it is not XML any more"},
		{"XML with a document type", reply("text/xml", `<!DOCTYPE r><r m="{{.More}}">{{.Text}}</r>`), "it is not XML"},
		{"an attribute without quotes", reply("text/xml", `<r m={{.More}}>{{.Text}}</r>`),
			"it is not XML any more; each tag is closed"},
		{"unknown charset", more(`ussd.reply.charset = "latin-99"`), "charset: there is no charset"},
		{"unsafe charset", more(`ussd.reply.charset = "iso-2022-kr"`), "charset: this charset is not safe"},
		{"status", more(`ussd.reply.status = 500`), "status: 500"},
		{"header name", more(`ussd.reply.headers = {"X Y" = "1"}`), `headers: "X Y"`},
		{"header of the server", more(`ussd.reply.headers = {content-length = "1"}`), `headers: "content-length"`},
		{"header of two lines", more(`ussd.reply.headers = {X-Y = "1\n2"}`), "headers: X-Y"},
		{"no such value in a header", more(`ussd.reply.headers = {X-Go = "{{.Go}}"}`),
			"headers: X-Go: there is no .Go here"},
		{"fine", more(""), ""},
		{"fine, more by a header", reply("text/plain", "{{.Text}}") + "\nussd.reply.headers = {X-Y = '{{.More}}'}", ""},
		{"fine, hexadecimal", js(`{"t":"{{.TextHex}}","m":{{.More}}}`), ""},
		{"fine, of a suffix", reply("application/x+json", `{"t":"{{.Text}}","m":{{.More}}}`), ""},
	})
}

func TestMistakesOfAPush(t *testing.T) {
	body := func(b string) string { return "push.body = '''" + b + "'''" }
	mistakesIn(t, basePush, []mistake{
		{"as it is", "", ""},
		{"a timeout without a unit", `push.timeout = 10`, "push: timeout: this is not a time span"},
		{"a validity without a unit", `push.validity = 24`, "push: validity: this is not a time span"},
		{"method", `push.method = "DELETE"`, "push: method"},
		{"type", `push.type = "s3cret"`, "push: type"},
		{"charset", `push.charset = "x"`, "push: charset"},
		{"one bracket too few", body(`{"to":"{{.To}","t":"{{.Text}}"}`), "push: body: a {{ has only one }"},
		{"no type", `push.type = ""`, "push: type"},
		{"no text", body(`{"to":"{{.To}}"}`), "push: body: the text"},
		{"no number", body(`{"t":"{{.Text}}"}`), "push: body: the number"},
		{"no quotes", body(`{"to":"{{.To}}","t":{{.Text}}}`), "push: body: with a text"},
		{"no such value", body(`{"to":"{{.Phone}}","t":"{{.Text}}"}`), "there is no .Phone here; there are .ID, .To,"},
		{"a type for nothing", body(""), "push: body: there is a type"},
		{"no such time", `push.time = "15:04"`, "push: time"},
		{"no secret", `push.secrets = ["C"]`, "push: secrets[1]: C is not set"},
		{"header", `push.headers = {Host = "x"}`, `push: headers: "Host"`},
		{"segments", `push.segments = -1`, "push: segments"},
		{"price", `push.segment_price = -1`, "push: segment_price"},
		{"rate", `push.rate = nan`, "push: rate"},
		{"concurrency", `push.concurrency = 1000`, "push: concurrency"},
		{"answer", `push.answer = "query"`, "push: answer"},
		{"id", `push.id = "ref"`, "push: id"},
		{"id in a query", `push.id = "query:ref"`, "push: id"},
		{"an id and no success", `push.id = "/ref"`, `push: success: say what in the answer proves that the network ` +
			`took the text: success = { at = "/ref" }, or`},
		{"an outcome and no success", `push.outcomes = [{at = "/a", is = ["x"], then = "never"}]`,
			`push: success: say what`},
		{"success only for what is no success", `push.answer = "xml"` + "\n" +
			`push.outcomes = [{status = "409", then = "taken"}]`, "push: success: say what"},
		{"success nowhere", `push.success = {is = ["x"]}`, "push: success: at: say where"},
		{"success in a query", `push.success = {at = "query:a"}`, "push: success: at: an answer has no query"},
		{"success of any words", `push.answer = "text"` + "\n" + `push.success = {at = "1"}`,
			"push: success: is: every answer has words"},
		{"success of any XML", `push.answer = "xml"` + "\n" + `push.success = {at = "count(/a)"}`,
			"push: success: is: this XPath has a value in every answer"},
		{"half a pair", `push.certificate = "our.pem"`, "push: key: the certificate needs the file"},
		{"the other half", `push.key = "our-key.pem"`, "push: certificate: the key needs the file"},
		{"a certificate without TLS", `push = {url = "http://heron.example/s3cret", authority = "a.pem"}`,
			"push: url: certificate, key and authority are for an address that begins with https"},
		{"a pair", `push = {certificate = "our.pem", key = "our-key.pem", authority = "a.pem"}`, ""},
		{"outcome of nothing", `push.outcomes = [{then = "taken"}]`, "push: outcomes[1]: it fits every"},
		{"outcome, half", `push.outcomes = [{at = "/a", then = "taken"}]`, "push: outcomes[1]: at and is"},
		{"outcome, which", `push.outcomes = [{status = "200", then = "maybe"}]`, "push: outcomes[1]: then"},
		{"outcome, where", `push.outcomes = [{at = "a", is = ["x"], then = "taken"}]`, "outcomes[1]: at"},
		{"outcome, status", `push.outcomes = [{status = "2xx", then = "taken"}]`, "outcomes[1]: status"},
		{"outcome, backwards", `push.outcomes = [{status = "299-200", then = "taken"}]`, "outcomes[1]: status"},
	})
}

func TestMistakesOfAnAddress(t *testing.T) {
	mistakesIn(t, basePush, []mistake{
		{"no address", `push.url = ""`, "push: url: say where"},
		{"no scheme", `push.url = "127.0.0.1:9001/s3cret"`, "push: url: not an http or https address"},
		{"a blank", `push.url = "https://heron.example/s3cret place"`, "push: url: not an http or https address"},
		{"no host", `push.url = "/s3cret"`, "push: url"},
		{"a file", `push.url = "file://host/s3cret"`, "push: url"},
		{"a host that changes", `push.url = "https://{{.From}}.example/s3cret"`, "push: url: the host"},
		{"a host that goes on", `push.url = "https://heron{{.From}}"`, "push: url: the host"},
		{"a template that is none", `push.url = "https://heron.example/s3cret{{.To"`, "url: this is not a template"},
		{"a function", `push.url = 'https://heron.example/?t={{printf "%.9s" .Text}}'`,
			"push: url: a function gets no text"},
		{"a loop", `push.url = "https://heron.example/s3cret?{{range 9000000000}}{{end}}"`,
			"push: url: {{range}} goes with a list"},
		{"no such function", `push.url = "https://heron.example/s3cret?t={{Text}}"`,
			"push: url: there is no function"},
	})
}

func TestMistakesOfTrust(t *testing.T) {
	trust := func(toml string) string { return "trust = {" + toml + "}" }
	mistakesIn(t, "", []mistake{
		{"no way", trust(""), "by: "},
		{"unknown way", trust(`by = "smile"`), `by: "smile"`},
		{"no secret", trust(`by = "bearer"`), "secrets: name"},
		{"not set", trust(`by = "bearer", secrets = ["C"]`), "secrets[1]: C is not set"},
		{"empty", trust(`by = "bearer", secrets = ["EMPTY"]`), "secrets[1]: EMPTY is empty"},
		{"lines", trust(`by = "bearer", secrets = ["LINES"]`), "secrets[1]: LINES"},
		{"a secret, not its name", trust(`by = "bearer", secrets = ["s3cret-itself"]`), "environment variables"},
		{"short key", trust(`by = "signature", secrets = ["A"]`), "secrets[1]: A: it is not whsec_"},
		{"no addresses", trust(`by = "address"`), "from: say"},
		{"no address", trust(`by = "address", from = ["here"]`), "neither an address nor"},
		{"all addresses", trust(`by = "address", from = ["192.0.2.1", "0.0.0.0/0"]`), "from: that is everybody"},
		{"all addresses of IPv6", trust(`by = "address", from = ["::/0"]`), "from: that is everybody"},
		{"IPv4 written as IPv6", trust(`by = "address", from = ["::ffff:192.0.2.0/120"]`), "neither an address"},
		{"one machine or a network", trust(`by = "address", from = ["192.0.2.7/24"]`),
			`from[1]: "192.0.2.7/24": this has digits beyond the network: 192.0.2.0/24 or 192.0.2.7 is meant`},
		{"a zone", trust(`by = "address", from = ["fe80::1%eth0"]`), "neither an address nor"},
		{"a secret for an address", trust(`by = "address", from = ["192.0.2.1"], secrets = ["A"]`), "secrets: none"},
		{"no user", trust(`by = "basic", secrets = ["A"]`), "user: "},
		{"a user with a colon", trust(`by = "basic", user = "a:b", secrets = ["A"]`), "user: "},
		{"a user for bearer", trust(`by = "bearer", user = "a", secrets = ["A"]`), "user: "},
		{"a time for bearer", trust(`by = "bearer", secrets = ["A"], tolerance = "1m"`), "tolerance: "},
		{"a day's tolerance", trust(`by = "signature", secrets = ["KEY"], tolerance = "24h"`),
			"tolerance: 24h0m0s is longer than 1h0m0s"},
		{"time without unit", trust(`by = "signature", secrets = ["KEY"], tolerance = 5`), "tolerance: this is not"},
		{"fine", trust(`by = "signature", secrets = ["KEY"], from = ["192.0.2.1"], tolerance = "1m"`), ""},
		{"covers what", trust(`by = "signature", secrets = ["KEY"], covers = "path"`), `covers: "path" is not`},
		{"covers for bearer", trust(`by = "bearer", secrets = ["A"], covers = "call"`), `covers: it is for`},
		{"a header for bearer", trust(`by = "bearer", secrets = ["A"], header = "X"`), `by: header, coding,`},
	})
	hmac := func(toml string) string { return trust(`by = "hmac", secrets = ["A"], ` + toml) }
	signs := func(s string) string { return hmac(`header = "X", time_header = "Y", signs = '` + s + `'`) }
	mistakesIn(t, "", []mistake{
		{"no header", hmac(`coding = "hex"`), "header: name the header"},
		{"no header's name", hmac(`header = "X Y"`), `header: "X Y"`},
		{"unknown coding", hmac(`header = "X", coding = "base32"`), `coding: "base32"`},
		{"a prefix of lines", hmac(`header = "X", prefix = "a\nb"`), "prefix: "},
		{"a prefix that HTTP cuts off", hmac(`header = "X", prefix = " v="`), "prefix: "},
		{"one header for two", hmac(`header = "X", time_header = "x", signs = "{{.Time}}.{{.Body}}"`), "time_header: "},
		{"a time of no header", hmac(`header = "X", time = "unix"`), "time: name the time_header"},
		{"a time in a form that is not fixed", hmac(`header = "X", time_header = "Y", time = "2006-01-02"`), "time: "},
		{"a time that is not signed", hmac(`header = "X", time_header = "Y"`), "signs: a time_header and {{.Time}} go"},
		{"a signed time of no header", hmac(`header = "X", signs = "{{.Time}}.{{.Body}}"`), "signs: a time_header and"},
		{"a tolerance without a time", hmac(`header = "X", tolerance = "1m"`), "tolerance: only a signature has"},
		{"an hour's tolerance", hmac(`header = "X", time_header = "Y", signs = "{{.Time}}{{.Body}}", tolerance = "1h"`),
			"tolerance: 1h0m0s is longer than 30m0s"},
		{"no body signed", signs("{{.Time}}"), "signs: neither {{.Body}} nor {{.Query}}"},
		{"an unknown value", signs("{{.Time}}{{.Words}}"), "there is no .Words here; there are {{.Time}}, {{.Method}}"},
		{"a function", signs("{{.Time}}{{printf .Body}}"), "there is no such value here"},
		{"one bracket", signs("{{.Time}}{{.Body}"), "there is no such value here"},
		{"twice", signs("{{.Time}}.{{.Body}}.{{.Body}}"), "{{.Body}} stands there twice"},
		{"the query runs into the body", signs("{{.Time}}{{.Query}}.{{.Body}}"), "between {{.Query}} and {{.Body}}"},
		{"the body runs into the query", signs("{{.Body}}{{.Time}}{{.Query}}"), "between {{.Query}} and {{.Body}}"},
		{"endless", signs(strings.Repeat("x", 257) + "{{.Body}}"), "signs: it is longer than 256"},
		{"fine", signs("{{.Method}} {{ .Path }}?{{.Query}} {{.Time}}:{{.Body}}"), ""},
	})
}

// A network makes only the calls that are described. A call whose table does not say where the values are is in the
// project's own format.
func TestBuildTakesOnlyWhatIsDescribed(t *testing.T) {
	for _, tt := range []struct {
		name, toml         string
		ussd, sms, receipt string // HTTP method of each call; "" = the network must not make this call
		ours               bool   // the dialogue must be in the project's own format
	}{
		{"nothing", baseTrust, "POST", "POST", "POST", true},
		{"a dialogue", baseWithReply, "POST", "", "", false},
		{"an empty table", baseTrust + "ussd = {}\nsms = {}", "POST", "POST", "", true},
		{"sending", `push.url = "https://heron.example/"`, "", "", "", true},
	} {
		p, err := build(t, tt.toml, "")
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		if p.USSD.Method != tt.ussd || p.SMS.Method != tt.sms || p.Receipt.Method != tt.receipt {
			t.Errorf("%s: %q %q %q", tt.name, p.USSD.Method, p.SMS.Method, p.Receipt.Method)
		}
		if (p.USSD.Format == Ours) != tt.ours {
			t.Errorf("%s: format %d", tt.name, p.USSD.Format)
		}
	}
}

func TestPriceInMillionths(t *testing.T) {
	p, err := build(t, basePush, `push.segment_price = 0.0125`)
	if err != nil || p.Push.SegmentPrice != 12_500 {
		t.Errorf("0.0125 is %d millionths, %v", p.Push.SegmentPrice, err)
	}
}

func TestInstants(t *testing.T) {
	want := time.Date(2026, 6, 1, 6, 0, 30, 0, time.UTC)
	for _, tt := range []struct{ layout, in, again string }{
		{"", "2026-06-01T08:00:30+02:00", "2026-06-01T06:00:30Z"},
		{"rfc3339", "2026-06-01T06:00:30Z", "2026-06-01T06:00:30Z"},
		{"unix", "1780293630", "1780293630"},
		{"unix-ms", "1780293630000", "1780293630000"},
		{"unix", "1780293630.75", "1780293630"}, // seconds with a fraction
		{"unix-ms", "1780293630000.5", "1780293630000"},
		{"02/01/2006 15:04:05", "01/06/2026 06:00:30", "01/06/2026 06:00:30"},
	} {
		layout := must(newLayout(tt.layout))
		if got := (Call{layout: layout}).ParseTime(tt.in); !got.Equal(want) {
			t.Errorf("%s: %q is %s", tt.layout, tt.in, got)
		}
		if got := formatTime(layout, want); got != tt.again {
			t.Errorf("%s: written %q, want %q", tt.layout, got, tt.again)
		}
		for _, bad := range []string{"", "soon", "-1", "1.5e9", "0x1", "99999999999999999999", "9223372036854775807"} {
			if got := (Call{layout: layout}).ParseTime(bad); !got.IsZero() {
				t.Errorf("%s: %q is %s", tt.layout, bad, got)
			}
		}
	}
}
