package profile

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// The log and the records show what stood in a network's answer, so that the operator can mend the description. A
// network may repeat the phone number, the text or the secret of the push in its answer. So only a few short words are
// shown, without five digits in a row, without the secret, and without two words in a row of the text.

var (
	plainWords = regexp.MustCompile(`^[\p{L}\p{N}_.:-]+( [\p{L}\p{N}_.:-]+){0,4}$`)
	manyDigits = regexp.MustCompile(`\p{N}([ .:_-]?\p{N}){4}`) // an id or a phone number
)

const (
	maxShown = 32 // characters of a value that is shown
	maxNames = 5  // names of an answer that are shown
)

// shown returns a value of the answer in quotes if it is a few short words, and otherwise its length.
func (r reading) shown(value string) string {
	if r.showable(value) {
		return `"` + value + `"`
	}
	return fmt.Sprintf("a value of %d characters", len([]rune(value)))
}

func (r reading) showable(value string) bool {
	words := strings.Split(value, " ")
	quotes := false // two words in a row are as in the text that was sent
	for i := range len(words) - 1 {
		quotes = quotes || strings.Contains(r.Sent, words[i]+" "+words[i+1])
	}
	secret := r.secret != "" &&
		(strings.Contains(value, r.secret) || len(value) > 3 && strings.Contains(r.secret, value))
	return len([]rune(value)) <= maxShown && plainWords.MatchString(value) && !manyDigits.MatchString(value) &&
		!quotes && !secret
}

// summary says in a few words what the answer is.
func (r reading) summary() string {
	switch {
	case r.flaw != "":
		return r.flaw
	case len(r.Body) == 0:
		return noBody
	case r.isHTML():
		return htmlPage
	case r.doc.form != nil:
		return "the answer is a form" + r.names(slices.Collect(maps.Keys(r.doc.form)))
	case r.doc.xml != nil:
		root := r.doc.root()
		return "the answer is XML" + r.names([]string{root.Data}) + r.namespace(root.NamespaceURI)
	case r.format == Text:
		return fmt.Sprintf("the answer is a text of %d characters", len([]rune(r.doc.text)))
	}
	switch v := r.doc.json.(type) {
	case map[string]any:
		return "the answer is a JSON object" + r.names(slices.Collect(maps.Keys(v)))
	case []any:
		return fmt.Sprintf("the answer is a JSON list of %d", len(v))
	}
	return "the answer is a JSON value"
}

// names lists the names of an answer that may be shown.
func (r reading) names(all []string) string {
	slices.Sort(all)
	all = slices.DeleteFunc(all, func(s string) bool { return !r.showable(s) })
	if len(all) == 0 {
		return ""
	}
	return " with " + strings.Join(all[:min(len(all), maxNames)], ", ")
}

// namespace names the namespace of an answer's root.
func (r reading) namespace(uri string) string {
	switch {
	case uri == "":
		return " in no namespace"
	case !r.showable(strings.ReplaceAll(uri, "/", ":")):
		return ""
	}
	return " in the namespace " + uri
}

// whyUnreadable says why the body of the answer cannot be read.
func (r reading) whyUnreadable(err error) string {
	switch {
	case len(r.Body) == 0:
		return noBody
	case r.Header.Get("Content-Encoding") != "":
		return "the answer is compressed in a way that was not asked for"
	case r.isHTML():
		return htmlPage
	case errors.Is(err, errNames):
		return "the answer has a name twice in one object"
	case errors.Is(err, errDepth), errors.Is(err, errTokens):
		return "the answer is nested too deep or has too many parts"
	case errors.Is(err, errDTD):
		return "the answer has a document type"
	}
	return fmt.Sprintf("the answer is not %s (%d octets)", formatNames[r.format], len(r.Body))
}

const (
	noBody   = "the answer has no body"
	htmlPage = "the answer is an HTML page"
)

// place names a place in the answer.
func (r reading) place(f Field) string {
	switch {
	case r.format != Text || f.source != inBody:
		return f.At
	case f.At == "*":
		return "the whole text"
	}
	return "word " + f.At
}

// isHTML reports whether the body begins as an HTML page does.
func (r reading) isHTML() bool {
	body := bytes.ToLower(bytes.TrimSpace(bytes.TrimPrefix(r.Body, []byte("\ufeff"))))
	return bytes.HasPrefix(body, []byte("<!doctype html")) || bytes.HasPrefix(body, []byte("<html"))
}

var formatNames = map[Format]string{
	Ours: "JSON", JSON: "JSON", XML: "XML in UTF-8", Form: "a form", Text: "text in UTF-8",
}
