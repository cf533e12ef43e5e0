package gateway_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/limit"
)

// These requests are well-formed HTTP with hostile values.
//
//revive:disable-next-line:function-length the rows of one table
func TestHostileValues(t *testing.T) {
	t.Parallel()
	const ussd, sms, receipt = "/in/local/ussd", "/in/local/sms", "/in/local/receipt"
	begin := func(change m) string { return says(ussd, encode(changed(call(m{"event": "begin"}), change))) }
	stepped := func(step string) string {
		return says(ussd, `{"phone":"+447700900123","session":"s","event":"begin","step":`+step+`}`)
	}
	entry := func(session, words string) string {
		return says(ussd, encode(call(m{"session": session, "entry": words})))
	}
	word := func(id any, words string) string {
		return says(sms, encode(m{"id": id, "phone": phone.E164(), "text": words}))
	}
	told := func(id, state any, more m) string {
		return says(receipt, encode(changed(m{"id": id, "state": state}, more)))
	}
	f := openWire(t)
	f.registered()
	f.h.enqueue("k1", morning.Add(-time.Hour))
	long := strings.Repeat("x", 129)
	deep := func(bracket string) string { return strings.Repeat(bracket, 20_000) }
	f.sendEach([]hostile{
		// The bodies of these calls are no valid JSON or form, or have values that are too long, of a wrong type or not
		// printable.
		{"a field too large", begin(m{"entry": strings.Repeat("x", 1601)}), "400 /entry"},
		{"an id too large", begin(m{"session": long}), "400 /session"},
		{"an id of line feeds", begin(m{"session": "a\r\nSet-Cookie: b"}), "400 /session"},
		{"a text's id with a line feed", word("a\r\nb", "menu"), "400 /id"},
		{"a receipt's id with a line feed", told("a\nb", "delivered", nil), "400 /id"},
		{"an id that cannot be seen", begin(m{"session": "\u200b\u202e"}), "400 /session"},
		{"wrong types all over", begin(m{"phone": []int{1}, "session": m{}, "event": 7, "entry": true}), "400 /phone"},
		{"a list as body", says(ussd, `[`+encode(call(nil))+`]`), "400 not a JSON object"},
		{"JSON without end", says(ussd, `{"phone":"`), "400 not a JSON object"},
		{"more after the JSON", says(ussd, encode(call(nil))+encode(call(nil))), "400 not a JSON object"},
		{"JSON of great depth", says(ussd, strings.Repeat(`{"a":[`, 5_500)), `400 "status":400`},
		{"JSON of great depth that ends", says(ussd, `{"a":`+deep("[")+deep("]")+"}"), `400 "status":400`},
		{"a number past all bounds", stepped("1e999"), "400 /step"},
		{"a number as long as the body", stepped(strings.Repeat("9", 60_000)), "400 /step"},
		{"a step just past its bound", begin(m{"step": 1<<20 + 1}), "400 /step"},
		{"bad UTF-8 in JSON", says(ussd, "{\"phone\":\"\xc3\x28\"}"), "400 not UTF-8"},
		{"overlong UTF-8 in JSON", says(ussd, "{\"phone\":\"\xc0\xaf\"}"), "400 not UTF-8"},
		{"half a pair in JSON (RFC 8259, 8.2)",
			says(ussd, `{"phone":"+447700900123","session":"\ud800","event":"begin"}`), "200 more"},
		{"a byte order mark", says(ussd, "\ufeff"+encode(call(nil))), "200 Plot 1"},
		{"NUL as entry", entry("grower", "1\x00"), "400 /entry"},
		{"a prototype's name", says(ussd, `{"__proto__":{"phone":"+447700900123"},"constructor":1}`), "400 /phone"},
		{"a pointer as name", says(ussd, `{"/phone":"+447700900123","a/b":1,"m~n":2}`), "400 /phone"},
		{"a form with a field twice", asks(ussd, form(call(nil))+"&phone=%2B447700900124"), "400 more than one"},
		{"a form of too many fields", asks(ussd, form(call(nil))+strings.Repeat("&a=1", 200)), "400 100 fields"},
		{"a form of nothing but marks", asks(ussd, strings.Repeat("&", 60_000)), "400 more than 100 fields"},
		{"a form with semicolons", asks(ussd, strings.ReplaceAll(form(call(nil)), "&", ";")), "400 not a form"},
		{"bad UTF-8 in a form", asks(ussd, form(call(nil))+"&dialled=%ff"), "400 /dialled"},
		{"NUL in a form", asks(ussd, form(call(nil))+"&dialled=%00"), "400 /dialled"},
		{"JSON as a form", asks(ussd, encode(call(nil))), "400 /phone"},
		{"a form as JSON", says(ussd, form(call(nil))), "400 not a JSON object"},
		{"XML with an entity",
			says(ussd, `<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><x>&e;</x>`), "400 not a JSON object"},
		{"a webhook-id too large", says(ussd, encode(call(nil)), "webhook-id: "+long), "400 webhook-id"},

		// These calls have hostile phone numbers.
		{"a short code", begin(m{"phone": "12345"}), "400 /phone"},
		{"a number too long", begin(m{"phone": fmt.Sprintf("+44%d1234", int64(7700900123))}), "400 /phone"},
		{"a number of letters", begin(m{"phone": "+44RICEROWS"}), "400 /phone"},
		{"a number with a mark of direction", begin(m{"phone": "\u202e+447700900123"}), "400 /phone"},
		{"a number with a zero-width space", begin(m{"phone": swap(phone.E164(), "900", "900\u200b")}), "400 /phone"},
		{"a number in other digits", begin(m{"phone": "+٤٤٧٧٠٠٩٠٠١٢٣"}), "400 /phone"},
		{"a number and another", begin(m{"phone": "+447700900123,+447700900124"}), "400 /phone"},
		{"a number with a line feed", begin(m{"phone": "+447700900123\r\nX-A: b"}), "400 /phone"},
		{"SQL as number", begin(m{"phone": phone.E164() + "' OR '1'='1"}), "400 /phone"},
		{"two plusses", begin(m{"phone": "++447700900123"}), "400 /phone"},
		{"a number that begins with 0", begin(m{"phone": "+0" + phone.E164()[1:]}), "400 /phone"},
		{"no number", begin(m{"phone": "+"}), "400 /phone"},

		// These calls have hostile entries and texts. Each is answered like a mistyped entry, and never executed.
		{"a template as entry", entry("words", "{{.}}{{template \"x\"}}"), `200 "more":true`},
		{"a shell's variable as entry", entry("words", "${HOME} $(id) `id`"), `200 "more":true`},
		{"SQL as entry", entry("words", "'; DROP TABLE grower; --"), `200 "more":true`},
		{"a formula as entry", entry("words", "=cmd|' /C calc'!A0"), `200 "more":true`},
		{"HTML as entry", entry("words", "<script>alert(1)</script>"), `200 "more":true`},
		{"a format as entry", entry("words", "%s%n%x%!d(string=)"), `200 "more":true`},
		{"pictures as entry", entry("words", "🌾🌾🌾"), `200 "more":true`},
		{"nothing that is seen as entry", entry("words", "\u200b\u200d\ufeff"), `200 "more":true`},
		{"a mark of direction as entry", entry("words", "\u202e1"), `200 "more":true`},
		{"a tower of accents as entry", entry("words", "e"+strings.Repeat("\u0301", 1500)), `200 "more":true`},
		{"the longest entry", entry("words", strings.Repeat("9", 1600)), `200 "more":true`},
		{"a dialled path without end",
			begin(m{"session": "path", "dialled": "*123*" + strings.Repeat("1*", 60) + "#"}), `200 "text"`},
		{"SQL as a dialled code",
			begin(m{"session": "path", "dialled": "*123*'; DROP TABLE plot;--#"}), `200 "more":true`},
		{"SQL as a session", begin(m{"session": "'; DROP TABLE session; --"}), `200 "more":true`},
		{"SQL as a text", word("t1", "'; DELETE FROM grower WHERE '1'='1"), "202"},
		{"a template as text", word("t2", "{{range .}}{{.}}{{end}}"), "202"},
		{"a long text", word("t3", strings.Repeat("🌾", 1600)), "202"},

		// These calls are repeated, some with other words under the same id. A repeat must change nothing.
		{"a text, first", word("again", "help"), "202"},
		{"the text again", word("again", "help"), "same 202"},
		{"its id with other words", word("again", "stop"), "same 202"},
		{"a step, first", begin(m{"session": "steps", "step": 0}), `200 "more":true`},
		{"the step again", begin(m{"session": "steps", "step": 0}), `same 200 "more":true`},
		{"a webhook-id, first", says(ussd, encode(call(m{"session": "hook"})), "webhook-id: hook"), `200 "more":true`},
		{"the webhook-id again",
			says(ussd, encode(call(m{"session": "hook", "entry": "2"})), "webhook-id: hook"), `same 200 "more":true`},
		{"the end of another's session",
			says(ussd, encode(m{"phone": "+447700900124", "session": "steps", "event": "end"})),
			`same 200 "more":false`},

		// These receipts name no text, are malformed, or have a time that cannot be right. The checks after the table
		// look at the time and the reason that were stored.
		{"a receipt for no text", told("none", "delivered", nil), "same 204"},
		{"a receipt with SQL as id", told("k1' OR '1'='1", "delivered", nil), "same 204"},
		{"a receipt with a state of ours", told("k1", "withdrawn", nil), "400 /state"},
		{"a receipt in capitals", told("k1", "DELIVERED", nil), "400 /state"},
		{"a receipt with a list of ids", told([]string{"k1"}, "delivered", nil), "400 /id"},
		{"a receipt with a number as id", told(1, "delivered", nil), "400 /id"},
		{"a receipt from the far future",
			told("k1", "failed", m{"at": "9999-12-31T23:59:59Z", "reason": "=1+1\r\n{{.}}"}), "204"},
		{"a receipt from before all time", told("none", "failed", m{"at": "0000-01-01T00:00:00Z"}), "same 204"},
		{"a receipt with no date", told("none", "failed", m{"at": "yesterday'; --"}), "same 204"},
	})
	for _, text := range f.h.outbox() {
		if text.EndedAt > morning.Unix() {
			t.Errorf("a network's clock is believed: %d", text.EndedAt)
		}
		if strings.ContainsAny(text.Reason, "\r\n") {
			t.Errorf("a reason on two lines: %q", text.Reason)
		}
	}
	assertLog(t, f)
}

// A plot's name may contain only letters and digits. Any other name is refused and is not stored, except in the
// dialogue's state.
func TestHostileNames(t *testing.T) {
	f := openWire(t)
	grower := f.registered()
	grower.enter("1", "6")
	const letters, nothing = "Use only letters and digits.", "Nothing was typed."
	for _, tt := range []struct{ name, says string }{
		{"{{.}}", nothing}, {"{{.Plot}}", letters}, {"${HOME}", letters}, {"%s%d%n", letters}, {"'; --", letters},
		{"x' OR 1=1", letters}, {"=1+1", letters}, {"@SUM(A1)", letters}, {"-1+2", letters}, {"+1", letters},
		{"\t=1", letters}, {"<b>x</b>", letters}, {"a\nb", letters}, {"a\r\nb", letters}, {"\u202eabc", letters},
		{"🌾", letters}, {"\u200b", nothing}, {strings.Repeat("W", 11), "At most 10 letters."},
	} {
		if said := grower.enter(tt.name); !strings.HasPrefix(said, tt.says+"\nWhat do you call this plot?") {
			t.Errorf("%q: %q", tt.name, said)
		}
		if name := f.plotName(); name != "" {
			t.Errorf("%q: the plot is called %q", tt.name, name)
		}
	}
	if said := grower.enter("NULL"); !strings.HasPrefix(said, "Noted. NULL: ") || f.plotName() != "NULL" {
		t.Errorf("%q, the plot is called %q", said, f.plotName())
	}
}

// plotName returns the name of the only plot in the records.
func (f *wireFixture) plotName() string {
	f.Helper()
	return fmt.Sprint(f.rows(`SELECT label FROM plot`)[0][0])
}

// registered returns a grower's phone in the session in which the grower registered a plot.
func (f *wireFixture) registered() *handset {
	f.Helper()
	u := &handset{h: f.h, phone: phone, session: "grower"}
	u.dial()
	u.enter("1", "1", "1", "1", "1", "1", "1", "20*30")
	return u
}

// The gateway gets two floods of ten thousand calls that each begin a session: one from a single number, one from many
// numbers. It accepts as many calls as the limits allow, and still answers other numbers and later calls.
func TestHostileFloods(t *testing.T) {
	t.Parallel()
	limits := func(o *gateway.Options) {
		o.Limits = limit.Incoming{
			Number: limit.Set{CallsAMinute: 50, OpenSessions: 20},
			All:    limit.Set{CallsAMinute: 400, OpenSessions: 300}, Pause: 10 * time.Minute,
		}
	}
	flood := func(f *wireFixture, change func(i int) m) (taken int) {
		for i := range 10_000 {
			w := f.h.post("/in/local/ussd", call(change(i)))
			switch {
			case w.Code == http.StatusOK:
				taken++
			case w.Code != http.StatusTooManyRequests || w.Header().Get("Retry-After") == "":
				t.Fatalf("call %d: %d %s", i, w.Code, w.Body)
			}
		}
		return taken
	}
	t.Run("one number", func(t *testing.T) {
		f := openWire(t, limits)
		if n := flood(f, func(i int) m { return m{"session": fmt.Sprint("s", i), "event": "begin"} }); n != 20 {
			t.Errorf("%d calls were taken, want 20", n)
		}
		f.ordinaryCall() // a call of another number in the same minute is answered
		// The log has one line for the limit of sessions and one line for the limit of calls.
		if n := strings.Count(f.h.log.String(), "a limit is reached"); n != 2 {
			t.Errorf("%d lines in the log, want 2", n)
		}
	})
	t.Run("many numbers", func(t *testing.T) {
		f := openWire(t, limits)
		number := func(i int) m { return m{"phone": fmt.Sprintf("+44%d", 7700900000+int64(i)), "event": "begin"} }
		if n := flood(f, number); n != 300 {
			t.Errorf("%d calls were taken, want 300", n)
		}
		f.h.clock.Advance(11 * time.Minute)
		f.ordinaryCall()
	})
}
