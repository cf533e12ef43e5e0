// Package profile describes networks: where a network's HTTP call carries each value, who may call, how texts are sent,
// and what a network's answers mean. A network is described by data (a Profile), never by code of its own.
//
//	p := profile.Default("local")
//	p.Token = profile.HashToken(token)
//	p.Push.URL = "https://sms.example/out"
//
// Default is the project's own wire format. Spec.Build makes a network from its description in rowbell.toml and refuses
// a description that could not work. To support a setting that no network had before, add a key to the Spec of its
// subject, check the key in the build function in the same file, and add a sample network with recorded requests to
// testdata/gateways.
//
// The package does no I/O, reads no clock, keeps no state between calls and has no data of growers. No real network's
// format is built in.
package profile

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"

	"rowbell/gateway/fault"
	"rowbell/gateway/limit"
	"rowbell/menu/text"
)

// Profile is one network.
type Profile struct {
	Name        string // part of the network's paths /in/{name}/...
	CountryCode string // digits, put before phone numbers without a country code; "" = refuse such numbers
	Sender      string // sender of texts; "" = the network chooses the sender
	Trust       *Trust // who may call; nil: everybody who sends Token may call
	Token       Hash   // hash of the bearer token that proves a caller if Trust is nil; the zero Hash admits nobody
	Open        bool   // anybody may call without a token: for practice on the loopback address only

	USSD    USSD
	SMS     SMS
	Receipt Receipt
	Push    Push
	Limits  limit.Set

	// Encoder chooses the SMS alphabet of texts that are sent, and so counts their segments. It must be the encoder by
	// which texts are charged: another one could count more segments, and Push.Segments would refuse a short text.
	Encoder text.Encoder
}

// Call says how a network writes one kind of callback, and how the service answers the callback.
type Call struct {
	Method  string // HTTP method; "": this network makes no such call
	Format  Format
	Charset Charset
	Reply   *Reply  // nil: the call is answered in the project's own format
	layout  string  // how the network writes times, see newLayout
	each    Field   // where the items are, if a call may have several; see Items
	fields  []Field // all values of a described call
}

// USSD is the call that a network makes for each step of a dialogue.
type USSD struct {
	Call
	Phone, Session, Dialled, Entry, Event, Step, ID Field

	Whole         bool              // the field Entry carries all entries of the session, not only the last
	Separator     string            // between two entries, if Whole
	Begins        Begins            // how the first call of a session is recognised if Events has no word for it
	Events        map[string]string // the network's words → begin, entry, end; nil: the network sends our words
	TroubleStatus int               // HTTP status that reports every failure; 0: each failure has its own status
}

// Begins says how the first call of a session is recognised if the network sends no word for it.
type Begins uint8

// The first call of a session is recognised by: BeginsByWord, only a word in Events; BeginsNewSession, a session id
// that is new; BeginsNoEntry, a call without an entry.
const (
	BeginsByWord Begins = iota
	BeginsNewSession
	BeginsNoEntry
)

// SMS is the call that a network makes for an incoming text.
type SMS struct {
	Call
	ID, Phone, Text, At Field
}

// Receipt is the call by which a network reports whether a text was delivered.
type Receipt struct {
	Call
	ID, State, At, Reason Field

	States map[string]string // the network's words → delivered, failed, expired, accepted; nil: it sends our words
}

// Begin, entry and end are the events of a dialogue's call. The other constants are states of a text in a delivery
// receipt.
const (
	Begin     = "begin"
	Entry     = "entry"
	End       = "end"
	Delivered = "delivered"
	Failed    = "failed"
	Expired   = "expired"
	Accepted  = "accepted" // the network has the text and is still trying to deliver it
)

// Push says how texts are sent to the network.
type Push struct {
	URL          string        // "" = texts are written to the log, or another network sends them
	Rate         float64       // texts a second; 0 = no limit
	Concurrency  int           // most pushes that wait for an answer at the same time
	Timeout      time.Duration // longest time for one try to send a text
	Validity     time.Duration // longest validity period; 0 = as long as the text is useful
	Segments     int           // a text of more SMS segments is not sent; 0 = no limit
	SegmentPrice int64         // price of one SMS segment in millionths of the currency's unit
	Idempotent   bool          // the network drops a text that it receives again with the same key
	TLS          TLSFiles

	form     *pushForm // nil: the push is written in the project's own format
	answer   Format    // format of the network's answer
	id       Field     // place of the network's own id in its answer
	success  proof     // what in an answer proves that the network took the text
	outcomes []outcomeRule
}

// Address is the fixed part of URL: scheme, host, and the path before the first template value. It is "" if the host
// has a template value.
func (p Push) Address() string {
	fixed, _, varies := strings.Cut(p.URL, "{{")
	_, rest, _ := strings.Cut(fixed, "://")
	if varies && !strings.ContainsAny(rest, "/?") {
		return ""
	}
	return fixed
}

// UsesGET reports whether texts are sent by the HTTP method GET.
func (p Push) UsesGET() bool { return p.form != nil && p.form.method == http.MethodGet }

// Defaults of a push: a small network accepts about ten texts a second, and if each answer takes 400 ms, four pushes at
// the same time reach this rate (judgement, no source).
const (
	DefaultRate        = 10
	DefaultConcurrency = 4
	DefaultTimeout     = 10 * time.Second
	maxRate            = 100_000
)

// Default is the project's own wire format for the network called name.
func Default(name string) Profile {
	return Profile{Name: name, USSD: ourUSSD(), SMS: ourSMS(), Receipt: ourReceipt(), Push: ourPush()}
}

var ourCall = Call{Method: http.MethodPost, layout: time.RFC3339}

func ourUSSD() USSD {
	return USSD{
		Call: ourCall, Phone: ourField("/phone"), Session: ourField("/session"), Dialled: ourField("/dialled"),
		Entry: ourField("/entry"), Event: ourField("/event"), Step: ourField("/step"),
	}
}

func ourSMS() SMS {
	return SMS{
		Call: ourCall, ID: ourField("/id"), Phone: ourField("/phone"), Text: ourField("/text"),
		At: ourField("/sent_at"),
	}
}

func ourReceipt() Receipt {
	return Receipt{
		Call: ourCall, ID: ourField("/id"), State: ourField("/state"), At: ourField("/at"), Reason: ourField("/reason"),
	}
}

func ourPush() Push {
	return Push{
		Rate: DefaultRate, Concurrency: DefaultConcurrency, Timeout: DefaultTimeout,
		Idempotent: true, answer: JSON, id: ourField("/id"),
		success: proof{at: ourField("/id"), noBody: true},
	}
}

var (
	nameForm = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,31}$`)
	codeForm = regexp.MustCompile(`^([1-9][0-9]{0,2})?$`)
)

// Validate returns the settings which cannot be used, by their keys in rowbell.toml.
func (p Profile) Validate() error {
	err := p.validate()
	if err != nil && nameForm.MatchString(p.Name) {
		return fmt.Errorf("network %s: %w", p.Name, err)
	}
	return err
}

func (p Profile) validate() error {
	var m fault.List
	m.Refuse(!nameForm.MatchString(p.Name), "",
		"network name %q: use small letters, digits and dashes, at most 32", p.Name)
	m.Refuse(!codeForm.MatchString(p.CountryCode), "country_code",
		"%q is not one to three digits without a plus", p.CountryCode)
	m.Refuse(p.Open && p.Token != Hash{}, "", "it has a token and asks for none")
	m.Add("limits", p.Limits.Validate())
	m.Add("push", p.Push.validate())
	return m.Err()
}

// validate returns the wrong settings. The error never shows the URL, which may contain a password.
func (p Push) validate() error {
	var m fault.List
	if p.URL != "" && p.form == nil { // a described push has a form, and its URL was checked with the form
		u, err := url.Parse(p.URL)
		m.Refuse(err != nil || u.Host == "" || !webScheme(u), "url", "not an http or https address")
	}
	m.Refuse(!(p.Rate >= 0 && p.Rate <= maxRate), // written with ! so that NaN is refused too
		"rate", "%g is not in 0..%d", p.Rate, maxRate)
	m.Refuse(p.Concurrency < 1 || p.Concurrency > 256, "concurrency", "%d is not in 1..256", p.Concurrency)
	m.Refuse(p.Timeout <= 0, "timeout", "%s is not above 0", p.Timeout)
	return m.Err()
}

func webScheme(u *url.URL) bool { return u.Scheme == "http" || u.Scheme == "https" }
