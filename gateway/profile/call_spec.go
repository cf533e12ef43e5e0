package profile

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"reflect"
	"slices"
	"strings"

	"rowbell/gateway/fault"
)

// CallSpec has the settings that the tables ussd, sms and receipt have in common.
type CallSpec struct {
	Method  string              `toml:"method"`  // HTTP method: POST, GET, PUT
	Body    string              `toml:"body"`    // format of the values: form, query, json, xml, text
	Charset string              `toml:"charset"` // charset of the body or the query; default utf-8
	Coding  string              `toml:"coding"`  // coding of the typed entry or the text: plain, ucs2-hex, gsm7-hex
	Time    string              `toml:"time"`    // rfc3339, unix, unix-ms, or a layout of Go's package time
	Strip   map[string][]string `toml:"strip"`   // prefixes to remove from a value; the key is the field's name
	Reply   *ReplySpec          `toml:"reply"`

	Namespaces Namespaces `toml:"namespaces"` // for body = "xml": prefixes of the XPaths
}

// USSDSpec is the table ussd: the call that a network makes for each step of a dialogue.
type USSDSpec struct {
	CallSpec
	Phone   string `toml:"phone"`
	Session string `toml:"session"`
	Dialled string `toml:"dialled"`
	Entry   string `toml:"entry"`
	Event   string `toml:"event"`
	Step    string `toml:"step"`
	ID      string `toml:"id"` // the network's id of the call; a repeated call has the same id

	Holds         string              `toml:"holds"`     // which entries of the session a call has: last or all
	Separator     string              `toml:"separator"` // between two entries if holds = "all"; default *
	Begins        string              `toml:"begins"`    // new-session or no-entry, see the type Begins
	Events        map[string][]string `toml:"events"`    // the network's words, by meaning: begin, entry, end
	TroubleStatus int                 `toml:"trouble_status"`
}

// SMSSpec is the table sms: the call that a network makes for an incoming text.
type SMSSpec struct {
	CallSpec
	Each  string `toml:"each"` // where the items are, if a call may have several texts; see Items
	ID    string `toml:"id"`
	Phone string `toml:"phone"`
	Text  string `toml:"text"`
	At    string `toml:"at"` // when the network got the text
}

// ReceiptSpec is the table receipt: the call by which a network reports whether a text was delivered.
type ReceiptSpec struct {
	CallSpec
	Each   string              `toml:"each"` // where the items are, if a call may have several receipts
	ID     string              `toml:"id"`
	State  string              `toml:"state"`
	At     string              `toml:"at"`
	Reason string              `toml:"reason"`
	States map[string][]string `toml:"states"` // the network's words, by meaning: delivered, failed, expired, accepted
}

func (s USSDSpec) build() (u USSD, err error) {
	values := s
	values.Reply, values.TroubleStatus = nil, 0
	ours := reflect.DeepEqual(values, USSDSpec{})
	b := s.begin(ours)
	if ours {
		u = ourUSSD()
	} else {
		u = s.describe(b)
	}
	u.TroubleStatus = s.TroubleStatus
	valid := s.TroubleStatus == 0 || s.TroubleStatus >= 200 && s.TroubleStatus <= 599 && s.TroubleStatus/100 != 3
	b.Refuse(!valid, "trouble_status", "%d is not a status of 200 to 299 or 400 to 599", s.TroubleStatus)
	b.Refuse(!ours && s.Reply == nil, "reply", "say how a screen is answered")
	u.Call, err = b.end(true)
	return u, err
}

func (s USSDSpec) describe(b *callBuilder) USSD {
	u := USSD{
		Phone:   b.field("phone", s.Phone, required),
		Session: b.field("session", s.Session, required),
		Dialled: b.field("dialled", s.Dialled, optional),
		Entry:   b.field("entry", s.Entry, required),
		Event:   b.field("event", s.Event, optional),
		Step:    b.field("step", s.Step, optional),
		ID:      b.field("id", s.ID, optional),
	}
	var err error
	u.Entry.coding, err = newCoding(s.Coding, true)
	b.Add("coding", err)
	u.Events, err = meanings(s.Events, Begin, Entry, End)
	b.Add("events", err)
	known := err == nil
	switch s.Begins {
	case "":
	case "new-session":
		u.Begins = BeginsNewSession
	case "no-entry":
		u.Begins = BeginsNoEntry
	default:
		b.Refuse(true, "begins", "%q is not new-session or no-entry", s.Begins)
	}
	byWord := s.Begins == ""
	b.Refuse(u.Begins != BeginsByWord && len(s.Events[Begin]) > 0,
		"begins", "a word of events begins a session already: keep one of the two")
	b.Refuse((s.Event != "") != (len(s.Events) > 0),
		"events", "a field event and the words that it may hold go together")
	b.Refuse(byWord && s.Event == "", "event", `say how a session begins: by a word of a field event, `+
		`or by begins = "new-session" or "no-entry"`)
	b.Refuse(known && byWord && s.Event != "" && len(s.Events[Begin]) == 0, "events.begin",
		`no word begins a session: events = { begin = ["..."] }`)
	b.Refuse(known && byWord && s.Event != "" && len(s.Events[Entry]) == 0, "events.entry",
		`no word is for an entry: events = { entry = ["..."] }`)
	switch s.Holds {
	case "", "last":
		b.Refuse(s.Separator != "", "separator", `it is for holds = "all"`)
	case "all":
		u.Whole, u.Separator = true, cmp.Or(s.Separator, "*")
	default:
		b.Refuse(true, "holds", "%q is not last or all", s.Holds)
	}
	return u
}

func (s SMSSpec) build() (m SMS, err error) {
	values := s
	values.Reply = nil
	ours := reflect.DeepEqual(values, SMSSpec{})
	b := s.begin(ours)
	if ours {
		m = ourSMS()
	} else {
		b.each(s.Each)
		m.ID = b.field("id", s.ID, required)
		m.Phone = b.field("phone", s.Phone, required)
		m.Text = b.field("text", s.Text, required)
		m.At = b.field("at", s.At, optional)
		m.Text.coding, err = newCoding(s.Coding, false)
		b.Add("coding", err)
		b.Refuse(b.call.Batch() && m.Text.Whole(), "text", "%s", sameForAll)
	}
	m.Call, err = b.end(false)
	if err == nil && m.Batch() && !m.ID.Whole() && m.Reply.showsID() {
		err = fault.Under("reply", errManyIDs)
	}
	return m, err
}

func (s ReceiptSpec) build() (r Receipt, err error) {
	values := s
	values.Reply = nil
	ours := reflect.DeepEqual(values, ReceiptSpec{})
	b := s.begin(ours)
	if ours {
		r = ourReceipt()
	} else {
		b.each(s.Each)
		r.ID = b.field("id", s.ID, required)
		r.State = b.field("state", s.State, required)
		r.At = b.field("at", s.At, optional)
		r.Reason = b.field("reason", s.Reason, optional)
		r.States, err = meanings(s.States, Delivered, Failed, Expired, Accepted)
		b.Add("states", err)
		b.Refuse(s.Coding != "", "coding", "a receipt has no text")
		b.Refuse(err == nil && len(s.States[Delivered]) == 0, "states.delivered",
			`no word says that a text has come: states = { delivered = ["..."] }`)
		b.Refuse(b.call.Batch() && r.ID.Whole(), "id", "%s", sameForAll)
	}
	r.Call, err = b.end(false)
	if err == nil && r.Batch() && r.Reply.showsID() {
		err = fault.Under("reply", errManyIDs)
	}
	return r, err
}

// meanings turns lists of the network's words under our names into a map from each word to our name.
func meanings(lists map[string][]string, names ...string) (map[string]string, error) {
	means := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(lists)) {
		if !slices.Contains(names, name) {
			return nil, fmt.Errorf("there is no %s; there are %s, each with a list of the network's words: "+
				`%s = ["..."]`, name, strings.Join(names, ", "), names[0])
		}
		for _, word := range lists[name] {
			if other, twice := means[word]; twice {
				return nil, fault.Under(name, fmt.Errorf("%q stands under %s too", word, other))
			}
			means[word] = name
		}
	}
	return means, nil
}

// callBuilder builds a Call from the table that describes it.
type callBuilder struct {
	fault.List
	spec  CallSpec
	call  Call
	names map[string]bool // names of the fields that the call has
}

const (
	required = true
	optional = false
)

// begin starts to build a call, in the project's own format or in the format that s describes.
func (s CallSpec) begin(ours bool) *callBuilder {
	b := &callBuilder{spec: s, call: ourCall, names: map[string]bool{}}
	if ours {
		return b
	}
	format, known := formats[s.Body]
	b.Refuse(s.Body == "", "body", "say how the values are written: form, query, json, xml or text")
	b.Refuse(!known, "body", "%q is not one of form, query, json, xml, text", s.Body)
	if !known {
		format = Form // where any name is a place: only the wrong body is a mistake, not the places
	}
	b.call.Format = format
	b.call.Method = cmp.Or(s.Method, http.MethodPost)
	switch b.call.Method {
	case http.MethodPost, http.MethodPut:
	case http.MethodGet:
		b.Refuse(known && format != Query, "body", `with the method GET it is "query"`)
	default:
		b.Refuse(true, "method", "%q is not one of POST, GET, PUT", s.Method)
	}
	var err error
	b.call.Charset, err = newCharset(s.Charset)
	b.Add("charset", err)
	b.call.layout, err = newLayout(s.Time)
	b.Add("time", err)
	b.Add("namespaces", s.Namespaces.check(format))
	return b
}

// sameForAll is what is wrong with a value of the whole call that must be different for each item.
const sameForAll = "with each it belongs to the item, and this place is the same for all items: begin at the item"

var errManyIDs = errors.New("with each there are many ids: " +
	"instead of {{.ID}} write {{range .IDs}} and {{.}} and {{end}}, or leave it out")

// each makes the place of the items. It must be called before field.
func (b *callBuilder) each(at string) {
	var err error
	b.call.each, err = newEach(b.call.Format, at, b.spec.Namespaces)
	b.Add("each", err)
}

// field makes the field called name from its place in the call. If needed is true, the place must be given.
func (b *callBuilder) field(name, at string, needed bool) Field {
	b.names[name] = true
	rest, whole := strings.CutPrefix(at, requestPrefix)
	b.Refuse(whole && (!b.call.Batch() || rest == ""), name,
		"request: goes before a place of the whole request where the key each says where its items are")
	f, err := newField(b.call.Format, rest, b.spec.Namespaces)
	b.Add(name, err)
	f.At, f.needed = at, needed
	f.whole = b.call.Batch() && (whole || b.call.Format == XML && strings.HasPrefix(rest, "/"))
	b.Refuse(needed && at == "", name, "say where it stands")
	// The longest prefix comes first, because only the first prefix that matches is removed from a value.
	byLength := func(x, y string) int { return len(y) - len(x) }
	f.strip = slices.SortedFunc(slices.Values(b.spec.Strip[name]), byLength)
	if at != "" {
		b.call.fields = append(b.call.fields, f)
	}
	return f
}

// end checks the table strip, makes the reply and returns the finished Call. If needsText is true, the reply must have
// the text of a screen.
func (b *callBuilder) end(needsText bool) (Call, error) {
	for _, name := range slices.Sorted(maps.Keys(b.spec.Strip)) {
		b.Refuse(!b.names[name], "strip", "there is no field %s", name)
		b.Refuse(slices.Contains(b.spec.Strip[name], ""), "strip."+name, "nothing cannot be stripped")
	}
	if b.spec.Reply != nil {
		var err error
		b.call.Reply, err = b.spec.Reply.build(needsText)
		b.Add("reply", err)
	}
	return b.call, b.Err()
}
