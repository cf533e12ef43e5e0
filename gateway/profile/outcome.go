package profile

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"rowbell/gateway/fault"
)

// OutcomeSpec is one entry of push.outcomes in rowbell.toml: what a network's answer to a push means. The first entry
// that matches the answer decides.
type OutcomeSpec struct {
	Status string   `toml:"status"` // HTTP statuses such as 200-299 or 400,404; default: any
	At     string   `toml:"at"`     // a place in the answer; the entry matches if the value there is one of Is
	Is     []string `toml:"is"`     // values at the place At for which the entry matches
	Then   string   `toml:"then"`   // what the answer means: taken, again, never, no-such-number, unsure
}

// Outcome is what a network's answer to a push means.
type Outcome uint8

// The outcomes of a push.
const (
	Taken        Outcome = iota + 1 // the network has accepted the text
	Again                           // the network may accept the text later
	Never                           // the network will never accept the text
	NoSuchNumber                    // the network knows no phone with this number, so the text cannot be delivered
	MaybeSent                       // it is unknown whether the network has accepted the text
)

var outcomes = map[string]Outcome{
	"taken": Taken, "again": Again, "never": Never, "no-such-number": NoSuchNumber, "unsure": MaybeSent,
}

// String returns the word that stands for the outcome in rowbell.toml.
func (o Outcome) String() string {
	for word, outcome := range outcomes {
		if outcome == o {
			return word
		}
	}
	return "?"
}

// outcomeRule is an entry of push.outcomes in rowbell.toml, after its values were checked and parsed.
type outcomeRule struct {
	status  [][2]int // ranges of HTTP statuses; empty: any status matches
	at      Field
	is      []string
	outcome Outcome
}

func (o OutcomeSpec) build(format Format, names Namespaces) (outcomeRule, error) {
	var m fault.List
	outcome, known := outcomes[o.Then]
	m.Refuse(!known, "then", "%q is not one of taken, again, never, no-such-number, unsure", o.Then)
	r := outcomeRule{is: o.Is, outcome: outcome}
	var err error
	r.status, err = statusRanges(o.Status)
	m.Add("status", err)
	m.Refuse((o.At == "") != (len(o.Is) == 0), "", "at and is go together")
	m.Refuse(o.At == "" && o.Status == "", "", "it fits every answer: say a status, or a place and what stands there")
	r.at, err = answerField(format, o.At, names)
	m.Add("at", err)
	return r, m.Err()
}

// statusRanges reads a list such as "200-299,404".
func statusRanges(list string) (ranges [][2]int, err error) {
	if list == "" {
		return nil, nil
	}
	for part := range strings.SplitSeq(list, ",") {
		low, high, isRange := strings.Cut(strings.TrimSpace(part), "-")
		if !isRange {
			high = low
		}
		from, err1 := strconv.Atoi(low)
		to, err2 := strconv.Atoi(high)
		if errors.Join(err1, err2) != nil || from < 100 || to > 599 || to < from {
			return nil, fmt.Errorf("%q is not a list such as 200-299,404", list)
		}
		ranges = append(ranges, [2]int{from, to})
	}
	return ranges, nil
}

func (r outcomeRule) fitsStatus(status int) bool {
	inRange := func(s [2]int) bool { return s[0] <= status && status <= s[1] }
	return len(r.status) == 0 || slices.ContainsFunc(r.status, inRange)
}

// saysTaken reports whether the rule says how an answer with a status of success shows that the text was taken.
func (r outcomeRule) saysTaken() bool {
	success := func(s [2]int) bool { return s[0] <= 299 && 200 <= s[1] }
	return r.outcome == Taken && (len(r.status) == 0 || slices.ContainsFunc(r.status, success))
}

// statusOutcome returns what an HTTP status means by itself. The network may have taken the text if the status says
// that it did and sends the answer elsewhere (303, RFC 9110 section 15.4.4), or if a proxy had no proper answer from
// the network (502, 504; sections 15.6.3 and 15.6.5). With any other status the text was not taken. Then it is sent
// again if the status is about the present moment, or about an address or password that the operator can correct.
func statusOutcome(status int) Outcome {
	switch status {
	case http.StatusSeeOther, http.StatusBadGateway, http.StatusGatewayTimeout:
		return MaybeSent
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests,
		http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusProxyAuthRequired:
		return Again
	}
	switch {
	case status/100 == 2:
		return Taken
	case 400 <= status && status < 500:
		return Never
	}
	return Again
}
