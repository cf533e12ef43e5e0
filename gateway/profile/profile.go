// Package profile describes networks: where a callback carries what, who may
// call, where texts go out. A network is a value, never code.
//
//	p := profile.Default("local")
//	p.Token = profile.HashToken(token)
//	p.Push.URL = "https://sms.example/out"
//
// Default is the project's own wire format; Spec.Build makes a network from its
// description in rowbell.toml, and refuses one that could not work. The package
// reads bodies, checks who calls, writes replies and pushes, and understands
// answers; it does no I/O and knows no grower.
package profile

import (
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"

	"rowbell/gateway/limit"
)

// Profile is one network.
type Profile struct {
	Name        string // stands in the paths: /in/{name}/...
	CountryCode string // digits, for numbers written without one; "" = refuse those
	Sender      string // what texts come from; "" = the network's own choice
	Trust       *Trust // who may call; nil: whoever has the token
	Token       Hash   // of the bearer token; the zero Hash lets nobody in
	Open        bool   // no token asked: practice, on the loopback address only

	USSD    USSD
	SMS     SMS
	Receipt Receipt
	Push    Push
	Limits  limit.Set
}

// Call is how one kind of callback comes in and is answered.
type Call struct {
	Method  string // "": this network makes no such call
	Format  Format
	Charset Charset
	Reply   *Reply // nil: ours
	clock   string // layout of instants
}

// USSD is a callback of a dialogue.
type USSD struct {
	Call
	Phone, Session, Dialled, Entry, Event, Step, ID Field

	Whole     bool              // the entry is all that was entered in the session so far
	Separator string            // between the entries of Whole
	Begins    Begins            // how the first call of a session is known, beside Events
	Events    map[string]string // the network's words to begin, entry, end; nil: ours
	Trouble   int               // status of the answer where we fail; 0: the honest one
}

// Begins is how the first call of a session is known where no word says so.
type Begins uint8

// The ways: by a word only; by a session that was not heard of before; by there
// being no entry.
const (
	BeginsByWord Begins = iota
	BeginsNewSession
	BeginsNoEntry
)

// SMS is the callback of an incoming text.
type SMS struct {
	Call
	ID, Phone, Text Field
}

// Receipt is a delivery receipt.
type Receipt struct {
	Call
	ID, State, At, Reason Field

	States map[string]string // the network's words to delivered, failed, expired, accepted; nil: ours
}

// Push is how texts go out.
type Push struct {
	URL          string        // "" = to the log, or by another network
	Rate         float64       // texts a second; 0 = no limit
	Concurrency  int           // texts on the way at once
	Timeout      time.Duration // of one try
	Validity     time.Duration // a text is valid that long at most; 0 = as long as it is useful
	Segments     int           // longer texts are not sent; 0 = no limit
	SegmentPrice int64         // millionths of the currency
	Idempotent   bool          // a text may be sent again with its key where no answer was heard

	form   *pushForm // nil: ours
	answer Format    // of the network's answer
	id     Field     // the network's own id in it
	rules  []outcomeRule
}

// Address is where texts go, as far as it is the same for each: scheme, host
// and what follows up to the first value. "" where the host itself differs.
func (p Push) Address() string {
	fixed, _, varies := strings.Cut(p.URL, "{{")
	_, rest, _ := strings.Cut(fixed, "://")
	if varies && !strings.ContainsAny(rest, "/?") {
		return ""
	}
	return fixed
}

// Gets reports that texts go out by the method GET.
func (p Push) Gets() bool { return p.form != nil && p.form.method == http.MethodGet }

// Defaults of Push. Ten a second is what a modest gateway takes; four at once
// keep that up with an answer time of 400 ms.
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

func ourUSSD() USSD {
	return USSD{
		Call: ourCall, Phone: ourField("/phone"), Session: ourField("/session"), Dialled: ourField("/dialled"),
		Entry: ourField("/entry"), Event: ourField("/event"), Step: ourField("/step"),
	}
}

func ourSMS() SMS {
	return SMS{Call: ourCall, ID: ourField("/id"), Phone: ourField("/phone"), Text: ourField("/text")}
}

func ourReceipt() Receipt {
	return Receipt{Call: ourCall, ID: ourField("/id"), State: ourField("/state"), At: ourField("/at"), Reason: ourField("/reason")}
}

func ourPush() Push {
	return Push{
		Rate: DefaultRate, Concurrency: DefaultConcurrency, Timeout: DefaultTimeout,
		Idempotent: true, answer: JSON, id: ourField("/id"),
	}
}

var ourCall = Call{Method: http.MethodPost, clock: time.RFC3339}

var (
	nameForm = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,31}$`)
	codeForm = regexp.MustCompile(`^([1-9][0-9]{0,2})?$`)
)

// Validate names the setting that cannot be used, as rowbell.toml calls it.
func (p Profile) Validate() error {
	err := p.validate()
	if err != nil && nameForm.MatchString(p.Name) {
		return fmt.Errorf("network %s: %w", p.Name, err)
	}
	return err
}

func (p Profile) validate() error {
	switch {
	case !nameForm.MatchString(p.Name):
		return fmt.Errorf("network name %q: use small letters, digits and dashes, at most 32", p.Name)
	case !codeForm.MatchString(p.CountryCode):
		return fmt.Errorf("country_code: %q is not one to three digits without a plus", p.CountryCode)
	case p.Open && p.Token != Hash{}:
		return errors.New("it has a token and asks for none")
	}
	if err := p.Limits.Validate(); err != nil {
		return fmt.Errorf("limits.%w", err)
	}
	return p.Push.Validate()
}

// Validate names the setting that cannot be used. It never repeats the
// address, which may hold a password.
func (p Push) Validate() error {
	if p.URL != "" && p.form == nil { // that of a form was tried with values in it
		u, err := url.Parse(p.URL)
		if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
			return errors.New("push.url: not an http or https address")
		}
	}
	switch {
	case !(p.Rate >= 0 && p.Rate <= maxRate): // not a number neither
		return fmt.Errorf("push.rate: %g is not in 0..%d", p.Rate, maxRate)
	case p.Concurrency < 1 || p.Concurrency > 256:
		return fmt.Errorf("push.concurrency: %d is not in 1..256", p.Concurrency)
	case p.Timeout <= 0:
		return fmt.Errorf("push.timeout: %s is not above 0", p.Timeout)
	}
	return nil
}

// Hash is the SHA-256 of a bearer token: tokens themselves are kept nowhere.
// They are long and random, so a plain hash is enough.
type Hash [sha256.Size]byte

// HashToken hashes a token.
func HashToken(token string) Hash { return sha256.Sum256([]byte(token)) }

// Admits reports whether an Authorization header carries the token, in time
// that does not depend on where the two differ.
func (h Hash) Admits(authorization string) bool {
	scheme, token, _ := strings.Cut(authorization, " ")
	got := HashToken(strings.TrimSpace(token))
	same := subtle.ConstantTimeCompare(got[:], h[:]) == 1
	return same && strings.EqualFold(scheme, "Bearer") && h != Hash{}
}
