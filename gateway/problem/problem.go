// Package problem writes HTTP errors as RFC 9457 problem documents. The package does not depend on routes or networks.
//
//	problem.New(http.StatusBadRequest, "The phone number cannot be read.").At("/phone").Write(w)
//
// All problems have the type about:blank. The status says what kind it is, and the detail what the caller should do. No
// detail repeats a phone number or what a grower typed.
package problem

import (
	"encoding/json"
	"net/http"
)

// MediaType is the content type of a problem document (RFC 9457 section 3).
const MediaType = "application/problem+json"

// Problem is one problem document; it is also an error.
type Problem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail,omitempty"`
	// Instance identifies the request (RFC 9457 section 3.1.5) and its log lines.
	Instance string  `json:"instance,omitempty"`
	Errors   []Field `json:"errors,omitempty"`
	// Text is an extension member: a text that a network may show on the phone in place of a screen.
	Text string `json:"text,omitempty"`
}

// Field is a mistake in one value of the request.
type Field struct {
	Detail  string `json:"detail"`
	Pointer string `json:"pointer"` // JSON pointer (RFC 6901) to the value in the body
	// Item is the item of a request with several, counted from 1; then Pointer begins at the item.
	Item int `json:"item,omitempty"`
}

// New returns a problem with the title of its status.
func New(status int, detail string) *Problem {
	return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail}
}

// At adds the JSON pointer of the value that the problem is about, and returns p.
func (p *Problem) At(pointer string) *Problem {
	p.Errors = append(p.Errors, Field{Detail: p.Detail, Pointer: pointer})
	return p
}

// Error returns the title and the detail.
func (p *Problem) Error() string {
	if p.Detail == "" {
		return p.Title
	}
	return p.Title + ": " + p.Detail
}

// Write writes the response. Headers such as Retry-After must be set before the call.
func (p *Problem) Write(w http.ResponseWriter) {
	body, err := json.Marshal(p)
	if err != nil {
		panic("problem: " + err.Error()) // strings and integers always encode
	}
	h := w.Header()
	h.Set("Content-Type", MediaType)
	h.Del("Content-Length")
	w.WriteHeader(p.Status)
	_, _ = w.Write(body) // fails only if the caller has disconnected
}
