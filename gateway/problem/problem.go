// Package problem writes errors of HTTP as RFC 9457 problem documents.
//
//	problem.New(http.StatusBadRequest, "The phone number cannot be read.").At("/phone").Write(w)
//
// All problems are of type about:blank: the status says what kind they are, the
// detail says in a sentence what would help. No detail repeats what a grower
// typed or a phone number.
package problem

import (
	"encoding/json"
	"net/http"
)

// MediaType is the content type of a problem document.
const MediaType = "application/problem+json"

// Problem is one problem document; it is also an error.
type Problem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail,omitempty"`
	// Instance names this very occurrence (RFC 9457 section 3.1.5), so that it
	// can be found in the log.
	Instance string  `json:"instance,omitempty"`
	Errors   []Field `json:"errors,omitempty"`
	// Text is what a network may show on the phone in place of a screen: an
	// extension member, only where a grower waits for an answer.
	Text string `json:"text,omitempty"`
}

// Field is one value that is not as it should be.
type Field struct {
	Detail  string `json:"detail"`
	Pointer string `json:"pointer"` // RFC 6901, into the body
}

// New returns a problem with the status' own title.
func New(status int, detail string) *Problem {
	return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail}
}

// At names the value in the body that the problem is about.
func (p *Problem) At(pointer string) *Problem {
	p.Errors = append(p.Errors, Field{Detail: p.Detail, Pointer: pointer})
	return p
}

// Error is the title and the detail.
func (p *Problem) Error() string {
	if p.Detail == "" {
		return p.Title
	}
	return p.Title + ": " + p.Detail
}

// Write answers with the problem. Headers such as Retry-After are set before.
func (p *Problem) Write(w http.ResponseWriter) {
	body, err := json.Marshal(p)
	if err != nil {
		panic("problem: " + err.Error()) // strings and an int always encode
	}
	h := w.Header()
	h.Set("Content-Type", MediaType)
	h.Del("Content-Length")
	w.WriteHeader(p.Status)
	_, _ = w.Write(body) // the caller has gone: nobody left to tell
}
