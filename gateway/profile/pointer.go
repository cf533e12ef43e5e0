package profile

import (
	"strconv"
	"strings"
)

// Pointer is a JSON pointer (RFC 6901): where a value stands in a body. The
// empty pointer stands for a value that this network does not send.
type Pointer string

var unescape = strings.NewReplacer("~1", "/", "~0", "~")

// tokens are the pointer's reference tokens.
func (p Pointer) tokens() []string {
	if p == "" {
		return nil
	}
	parts := strings.Split(strings.TrimPrefix(string(p), "/"), "/")
	for i, s := range parts {
		parts[i] = unescape.Replace(s)
	}
	return parts
}

// Lookup finds the value in a document as encoding/json decodes it into any.
// A null is a value that is not there.
func (p Pointer) Lookup(doc any) (any, bool) {
	tokens := p.tokens()
	if len(tokens) == 0 {
		return nil, false
	}
	for _, t := range tokens {
		switch d := doc.(type) {
		case map[string]any:
			v, ok := d[t]
			if !ok {
				return nil, false
			}
			doc = v
		case []any:
			i, err := strconv.Atoi(t)
			if err != nil || i < 0 || i >= len(d) || strconv.Itoa(i) != t {
				return nil, false
			}
			doc = d[i]
		default:
			return nil, false
		}
	}
	return doc, doc != nil
}

// Name is the name that the value has as a form field: the last token.
func (p Pointer) Name() string {
	tokens := p.tokens()
	if len(tokens) == 0 {
		return ""
	}
	return tokens[len(tokens)-1]
}
