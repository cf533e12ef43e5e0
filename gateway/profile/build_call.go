package profile

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
)

// Names of what a dialogue's call and a receipt can say.
const (
	Begin     = "begin"
	Entry     = "entry"
	End       = "end"
	Delivered = "delivered"
	Failed    = "failed"
	Expired   = "expired"
	Accepted  = "accepted" // the network is still trying
)

// ours reports that a table describes nothing but the reply.
func (c CallSpec) ours() bool {
	c.Reply = nil
	return reflect.DeepEqual(c, CallSpec{})
}

func (s USSDSpec) build() (u USSD, err error) {
	if s.ours() && s.Phone+s.Session+s.Dialled+s.Entry+s.Event+s.Step+s.ID+s.Holds+s.Separator+s.Begins == "" && s.Events == nil {
		u = ourUSSD()
		if s.Reply != nil {
			if u.Reply, err = s.Reply.build(true); err != nil {
				return u, key("reply", err)
			}
		}
		return u, key("trouble_status", s.trouble(&u))
	}
	b := s.begin()
	coding, err := newCoding(s.Coding, true)
	b.fail("coding", err)
	u = USSD{
		Phone:   b.field("phone", s.Phone, true),
		Session: b.field("session", s.Session, true),
		Dialled: b.field("dialled", s.Dialled, false),
		Entry:   b.field("entry", s.Entry, true),
		Event:   b.field("event", s.Event, false),
		Step:    b.field("step", s.Step, false),
		ID:      b.field("id", s.ID, false),
	}
	u.Entry.coding = coding
	switch s.Begins {
	case "":
	case "new-session":
		u.Begins = BeginsNewSession
	case "no-entry":
		u.Begins = BeginsNoEntry
	default:
		b.fail("begins", fmt.Errorf("%q is not new-session or no-entry", s.Begins))
	}
	u.Events, err = words(s.Events, Begin, Entry, End)
	b.fail("events", err)
	switch {
	case u.Begins != BeginsByWord && len(s.Events[Begin]) > 0:
		b.fail("begins", errors.New("a word of events begins a session already: keep one of the two"))
	case (s.Event != "") != (len(s.Events) > 0):
		b.fail("events", errors.New("a field event and the words that it may hold go together"))
	case u.Begins == BeginsByWord && s.Event == "":
		b.fail("event", errors.New(`say how a session begins: by a word of a field event, or by begins = "new-session" or "no-entry"`))
	case u.Begins == BeginsByWord && len(s.Events[Begin]) == 0:
		b.fail("events.begin", errors.New("no word begins a session"))
	case u.Begins == BeginsByWord && len(s.Events[Entry]) == 0:
		b.fail("events.entry", errors.New("no word is for an entry"))
	}
	switch s.Holds {
	case "", "last":
		if s.Separator != "" {
			b.fail("separator", errors.New(`it is for holds = "all"`))
		}
	case "all":
		u.Whole, u.Separator = true, s.Separator
		if s.Separator == "" {
			u.Separator = "*"
		}
	default:
		b.fail("holds", fmt.Errorf("%q is not last or all", s.Holds))
	}
	b.fail("trouble_status", s.trouble(&u))
	if s.Reply == nil {
		b.fail("reply", errors.New("say how a screen is answered"))
	}
	u.Call, err = b.end(true)
	return u, err
}

func (s USSDSpec) trouble(u *USSD) error {
	if s.TroubleStatus != 0 && (s.TroubleStatus < 200 || s.TroubleStatus > 599 || s.TroubleStatus/100 == 3) {
		return fmt.Errorf("%d is not a status of 200 to 299 or 400 to 599", s.TroubleStatus)
	}
	u.Trouble = s.TroubleStatus
	return nil
}

func (s SMSSpec) build() (m SMS, err error) {
	if s.ours() && s.ID+s.Phone+s.Text == "" {
		m = ourSMS()
		if s.Reply != nil {
			m.Reply, err = s.Reply.build(false)
		}
		return m, key("reply", err)
	}
	b := s.begin()
	coding, err := newCoding(s.Coding, false)
	b.fail("coding", err)
	m = SMS{
		ID:    b.field("id", s.ID, true),
		Phone: b.field("phone", s.Phone, true),
		Text:  b.field("text", s.Text, true),
	}
	m.Text.coding = coding
	m.Call, err = b.end(false)
	return m, err
}

func (s ReceiptSpec) build() (r Receipt, err error) {
	if s.ours() && s.ID+s.State+s.At+s.Reason == "" && s.States == nil {
		r = ourReceipt()
		if s.Reply != nil {
			r.Reply, err = s.Reply.build(false)
		}
		return r, key("reply", err)
	}
	b := s.begin()
	if s.Coding != "" {
		b.fail("coding", errors.New("a receipt has no text"))
	}
	r = Receipt{
		ID:     b.field("id", s.ID, true),
		State:  b.field("state", s.State, true),
		At:     b.field("at", s.At, false),
		Reason: b.field("reason", s.Reason, false),
	}
	r.States, err = words(s.States, Delivered, Failed, Expired, Accepted)
	b.fail("states", err)
	if len(s.States[Delivered]) == 0 {
		b.fail("states.delivered", errors.New("no word says that a text has come"))
	}
	r.Call, err = b.end(false)
	return r, err
}

// words turns lists of a network's words about: each word to what it means.
func words(lists map[string][]string, may ...string) (map[string]string, error) {
	means := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(lists)) {
		if !slices.Contains(may, name) {
			return nil, fmt.Errorf("there is no %s; there are %v", name, may)
		}
		for _, word := range lists[name] {
			if other, twice := means[word]; twice {
				return nil, fmt.Errorf("%s: %q stands under %s too", name, word, other)
			}
			means[word] = name
		}
	}
	return means, nil
}
