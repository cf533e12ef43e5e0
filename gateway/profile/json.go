package profile

import (
	"bytes"
	"encoding/json"
)

// maxDepth bounds how deep objects, lists and elements stand in each other.
// What networks send is three or four deep.
const maxDepth = 32

var (
	errJSON  = Wrong("The body is not a JSON object.")
	errDepth = Wrong("The body is nested too deep.")
	errNames = Wrong("A name stands twice in an object of the body.")
)

// parseJSON reads one JSON value as encoding/json decodes it into any, numbers
// as json.Number. Names that stand twice are refused: two readers of one body
// must not see two things (RFC 8259 section 4).
func parseJSON(body []byte) (any, error) {
	if !json.Valid(body) {
		return nil, errJSON
	}
	p := jsonParser{rest: body}
	return p.value(0)
}

// jsonParser reads what is known to be JSON.
type jsonParser struct{ rest []byte }

// next is the first character that is not white space; it stays there.
func (p *jsonParser) next() byte {
	i := 0
	for p.rest[i] == ' ' || p.rest[i] == '\n' || p.rest[i] == '\t' || p.rest[i] == '\r' {
		i++
	}
	p.rest = p.rest[i:]
	return p.rest[0]
}

func (p *jsonParser) skip(n int) { p.rest = p.rest[n:] }

func (p *jsonParser) value(depth int) (any, error) {
	if depth > maxDepth {
		return nil, errDepth
	}
	switch p.next() {
	case '{':
		return p.object(depth)
	case '[':
		return p.list(depth)
	case '"':
		return p.text()
	case 't':
		p.skip(len("true"))
		return true, nil
	case 'f':
		p.skip(len("false"))
		return false, nil
	case 'n':
		p.skip(len("null"))
		return nil, nil
	}
	n := bytes.IndexAny(p.rest, " \n\t\r,]}")
	if n < 0 {
		n = len(p.rest)
	}
	number := json.Number(p.rest[:n])
	p.skip(n)
	return number, nil
}

func (p *jsonParser) object(depth int) (any, error) {
	object := map[string]any{}
	for p.skip(1); p.next() != '}'; {
		if p.rest[0] == ',' {
			p.skip(1)
			p.next()
		}
		name, err := p.text()
		if err != nil {
			return nil, err
		}
		if _, twice := object[name]; twice {
			return nil, errNames
		}
		p.next()
		p.skip(1) // the colon
		if object[name], err = p.value(depth + 1); err != nil {
			return nil, err
		}
	}
	p.skip(1)
	return object, nil
}

func (p *jsonParser) list(depth int) (any, error) {
	list := []any{}
	for p.skip(1); p.next() != ']'; {
		if p.rest[0] == ',' {
			p.skip(1)
		}
		v, err := p.value(depth + 1)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	p.skip(1)
	return list, nil
}

func (p *jsonParser) text() (string, error) {
	escaped := false
	n := 1
	for ; p.rest[n] != '"'; n++ {
		if p.rest[n] == '\\' {
			escaped = true
			n++
		}
	}
	whole := p.rest[:n+1]
	p.skip(n + 1)
	if !escaped {
		return string(whole[1:n]), nil
	}
	var s string
	if err := json.Unmarshal(whole, &s); err != nil {
		return "", errJSON
	}
	return s, nil
}
