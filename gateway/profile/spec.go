package profile

import (
	"errors"
	"time"

	"rowbell/gateway/limit"
)

// Spec is a network as rowbell.toml describes it, under [gateways.NAME]. A
// network without tables for its calls speaks our own format; otherwise only
// what is described is there, and a table without places for its values is in
// our own format.
type Spec struct {
	CountryCode string       `toml:"country_code"`
	Sender      string       `toml:"sender"`
	Trust       *TrustSpec   `toml:"trust"`
	USSD        *USSDSpec    `toml:"ussd"`
	SMS         *SMSSpec     `toml:"sms"`
	Receipt     *ReceiptSpec `toml:"receipt"`
	Push        *PushSpec    `toml:"push"`
	Limits      limit.Set    `toml:"limits"`
}

// TrustSpec is who may call.
type TrustSpec struct {
	By        string   `toml:"by"`        // signature, bearer, basic, address
	User      string   `toml:"user"`      // of basic
	Secrets   []string `toml:"secrets"`   // names of environment variables: the one in use, and the one before or after it
	From      []string `toml:"from"`      // addresses and networks such as 192.0.2.0/24
	Tolerance Span     `toml:"tolerance"` // of a signature's time, either way; 5m
}

// CallSpec is what the calls have in common.
type CallSpec struct {
	Method  string              `toml:"method"`  // POST, GET, PUT
	Body    string              `toml:"body"`    // form, query, json, xml, text
	Charset string              `toml:"charset"` // of body or query; utf-8
	Coding  string              `toml:"coding"`  // of the text in it: plain, ucs2-hex, gsm7-hex
	Time    string              `toml:"time"`    // rfc3339, unix, unix-ms, or a layout of Go's package time
	Strip   map[string][]string `toml:"strip"`   // what may stand before a value and is no part of it, by field
	Reply   *ReplySpec          `toml:"reply"`
}

// USSDSpec is a callback of a dialogue.
type USSDSpec struct {
	CallSpec
	Phone   string `toml:"phone"`
	Session string `toml:"session"`
	Dialled string `toml:"dialled"`
	Entry   string `toml:"entry"`
	Event   string `toml:"event"`
	Step    string `toml:"step"`
	ID      string `toml:"id"` // of the call: the same on a repeat

	Holds         string              `toml:"holds"`     // last or all: what the entry holds of the session
	Separator     string              `toml:"separator"` // between the entries of all; *
	Begins        string              `toml:"begins"`    // new-session, no-entry
	Events        map[string][]string `toml:"events"`    // begin, entry, end
	TroubleStatus int                 `toml:"trouble_status"`
}

// SMSSpec is the callback of an incoming text.
type SMSSpec struct {
	CallSpec
	ID    string `toml:"id"`
	Phone string `toml:"phone"`
	Text  string `toml:"text"`
}

// ReceiptSpec is a delivery receipt.
type ReceiptSpec struct {
	CallSpec
	ID     string              `toml:"id"`
	State  string              `toml:"state"`
	At     string              `toml:"at"`
	Reason string              `toml:"reason"`
	States map[string][]string `toml:"states"` // delivered, failed, expired, accepted
}

// ReplySpec is how a call is answered.
type ReplySpec struct {
	Status  int               `toml:"status"` // 200
	Type    string            `toml:"type"`
	Charset string            `toml:"charset"`
	Headers map[string]string `toml:"headers"`
	Body    string            `toml:"body"`
}

// PushSpec is how texts go out.
type PushSpec struct {
	URL     string            `toml:"url"`
	Method  string            `toml:"method"` // POST
	Type    string            `toml:"type"`
	Charset string            `toml:"charset"`
	Headers map[string]string `toml:"headers"`
	Body    string            `toml:"body"`
	Time    string            `toml:"time"`    // of .ValidUntil; rfc3339
	Secrets []string          `toml:"secrets"` // names of environment variables; the first is .Secret

	Answer   string        `toml:"answer"` // json, xml, form, text
	ID       string        `toml:"id"`     // the network's own id in its answer
	Outcomes []OutcomeSpec `toml:"outcomes"`

	Rate         *float64 `toml:"rate"`
	Concurrency  int      `toml:"concurrency"`
	Timeout      Span     `toml:"timeout"`
	Validity     Span     `toml:"validity"`
	Segments     int      `toml:"segments"`
	SegmentPrice float64  `toml:"segment_price"`
	Idempotent   *bool    `toml:"idempotent"`
}

// OutcomeSpec says what an answer means; the first that fits counts.
type OutcomeSpec struct {
	Status string   `toml:"status"` // such as 200-299 or 400,404; any
	At     string   `toml:"at"`     // a place in the answer
	Is     []string `toml:"is"`     // what stands there
	Then   string   `toml:"then"`   // taken, again, never, no-such-number, unsure
}

// Span is a time span written "90m" or "24h".
type Span time.Duration

// UnmarshalText reads a span above 0.
func (s *Span) UnmarshalText(b []byte) error {
	d, err := time.ParseDuration(string(b))
	if err != nil || d < time.Second {
		return errSpan
	}
	*s = Span(d)
	return nil
}

var errSpan = errors.New(`this is not a time span such as "10s", "90m" or "24h"`)

// check refuses a bare number: it is read as nanoseconds, and nobody means
// those.
func (s Span) check() error {
	if s != 0 && time.Duration(s) < time.Second {
		return errSpan
	}
	return nil
}
