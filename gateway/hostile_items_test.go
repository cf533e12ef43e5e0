package gateway_test

import (
	"encoding/base64"
	"fmt"
	"strings"
	"testing"
)

// These hostile calls come from the sample networks that send several texts or receipts in a call.
//
//revive:disable-next-line:function-length the rows of one table
func TestHostileItems(t *testing.T) {
	t.Parallel()
	rook := func(kind, body string) string {
		return bare("POST", "/in/rook/"+kind, []string{typeJSON, "Authorization: Bearer " + rookSecret}, body)
	}
	sms := func(calls string) string { return rook("sms", `{"roost":{"calls":`+calls+`}}`) }
	text := func(no, throat, caw string) string {
		return fmt.Sprintf(`{"no":%q,"throat":%q,"caw":%q}`, no, throat, caw)
	}
	one := text("n1", "447700900123", "help")
	many := func(n int, item string) string { return "[" + strings.Repeat(item+",", n-1) + item + "]" }
	sedge := func(kind, body string) string {
		authorization := "Authorization: Basic " + base64.StdEncoding.EncodeToString([]byte("sedge:"+sedgeSecret))
		return bare("POST", "/in/sedge/"+kind, []string{"Content-Type: text/xml", authorization}, body)
	}
	stem := func(root, leaf string) string {
		return "<stem><root>" + root + "</root><leaf>" + leaf + "</leaf></stem>"
	}
	const none = "400 no list here"
	f := openDescribedWire(t)
	f.sendEach([]hostile{
		{"json: one", sms("[" + one + "]"), `200 {"heard":["n1"],"unheard":0}`},
		{"json: the same a hundred times", sms(many(100, one)), `same 200 "unheard":0`},
		{"json: a hundred and one", sms(many(101, one)), "413 101 items; at most 100"},
		{"json: ten thousand", sms(many(10_000, "{}")), "413 10000 items"},
		{"json: ten thousand numbers", sms(many(10_000, "7")), "413 10000 items"},
		{"json: more than the body may hold", sms(many(2_000, one)), "413 larger than 64 KiB"},
		{"json: an object", sms(one), none},
		{"json: a string", sms(`"` + strings.Repeat("[", 99) + `"`), none},
		{"json: null", sms("null"), none},
		{"json: nothing", rook("sms", "{}"), none},
		{"json: a list at the root", rook("sms", "["+one+"]"), none},
		{"json: a list of lists", sms("[[" + one + "]]"), `400 "item":1`},
		{"json: lists in lists", sms(strings.Repeat("[", 40) + strings.Repeat("]", 40)), "400 nested too deep"},
		{"json: lists in lists, not closed", sms(strings.Repeat("[", 30_000)), "400 not a JSON object"},
		{"json: all types", sms(`[null,true,1e9,"x",[],{}]`), `400 "item":6`},
		{"json: a list of ids", sms(`[{"no":["a","b"],"throat":"447700900123","caw":"help"}]`), "400 several items"},
		{"json: an id that breaks out", sms("[" + text(`"],"x":["`, "447700900123", "help") + "]"),
			`200 {"heard":["\"],\"x\":[\""],"unheard":0}`},
		{"json: a template as an id", sms("[" + text("{{.Refused}}", "447700900123", "help") + "]"),
			`200 {"heard":["{{.Refused}}"]`},
		{"json: an id too long", sms("[" + text(strings.Repeat("n", 129), "447700900123", "help") + "]"), "400 longer"},
		{"json: a name twice in an item", sms("[" + swap(one, "{", `{"no":"n9",`) + "]"), "400 twice"},
		{"json: bad ones around a repeat", sms("[7," + one + `,{"no":"n2"}]`), `same 200 {"heard":["n1"],"unheard":2}`},
		{"json: another phone's id", sms("[" + text("n1", "447700900124", "help") + "]"), `200 {"heard":["n1"]`},
		{"json: without a token", swap(sms("["+one+"]"), rookSecret, "x"), "401 Bearer"},
		{"receipts: of no texts", rook("receipt", many(50, `{"twig":"none","lies":"nested"}`)), "same 204"},
		{"receipts: one is bad", rook("receipt", `[{"twig":"none","lies":"nested"},{}]`), "same 204"},
		{"receipts: all are bad", rook("receipt", `[{},{}]`), `400 "item":2`},
		{"receipts: too many", rook("receipt", many(101, "{}")), "413 101 items"},
		{"receipts: an object", rook("receipt", `{"twig":"none","lies":"nested"}`), none},

		{"xml: one", sedge("sms", `<bed no="b1">`+stem("447700900123", "help")+"</bed>"), `200 stems="1"`},
		{"xml: the bed again with another leaf",
			sedge("sms", `<bed no="b1">`+stem("447700900123", "stop")+"</bed>"), `same 200 stems="1"`},
		{"xml: no number of the bed", sedge("sms", "<bed>"+stem("447700900123", "help")+"</bed>"), "400 needed"},
		{"xml: ten thousand", sedge("sms", `<bed no="b2">`+strings.Repeat("<stem/>", 9_000)+"</bed>"),
			"400 too many elements"},
		{"xml: a thousand", sedge("sms", `<bed no="b2">`+strings.Repeat("<stem/>", 1_000)+"</bed>"), "413 1000 items"},
		{"xml: stems in stems", sedge("sms", `<bed no="b3">`+strings.Repeat("<stem>", 20)+
			strings.Repeat("</stem>", 20)+"</bed>"), "400 no phone number"},
		{"xml: none", sedge("sms", `<bed no="b4"><twig/></bed>`), "400 no item"},
		{"xml: a leaf that breaks out", sedge("sms", `<bed no="&quot;/&gt;">`+stem("447700900123", "help")+"</bed>"),
			`200 no="&#34;/&gt;"`},
		{"xml: seeds at any depth", sedge("receipt", `<tray state="up"><seed no="s"><seed no="t"/></seed></tray>`),
			"same 204"},
	})
	assertLog(t, f, sampleSecrets...)
}
