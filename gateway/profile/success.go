package profile

import (
	"errors"
	"slices"

	"rowbell/gateway/fault"
)

// SuccessSpec is the table push.success of rowbell.toml: what in a network's answer proves that it took the text.
type SuccessSpec struct {
	At string   `toml:"at"` // a place in the answer
	Is []string `toml:"is"` // the values there that prove it; default: any but an empty value and false
}

// proof is the table push.success after its values were checked and parsed. The zero proof is not described.
type proof struct {
	at     Field
	is     []string
	noBody bool // an answer without a body proves it too
}

func (s SuccessSpec) build(format Format, names Namespaces) (proof, error) {
	var m fault.List
	p := proof{is: s.Is}
	m.Refuse(s.At == "", "at", "say where in the answer it stands that the network took the text")
	var err error
	p.at, err = answerField(format, s.At, names)
	m.Add("at", err)
	if len(m) == 0 && len(s.Is) == 0 {
		m.Add("is", p.alwaysThere(format))
	}
	return p, m.Err()
}

// alwaysThere returns an error if each answer, for example the page of a proxy, has a value at the place.
func (p proof) alwaysThere(format Format) error {
	if p.at.source != inBody {
		return nil
	}
	if format == Text {
		return errors.New("every answer has words; say which words mean that the network took the text")
	}
	if p.at.path != nil {
		if v, err := p.at.path.value(navigator(emptyXML)); err != nil || v != nil && v != "" {
			return errors.New("this XPath has a value in every answer; " +
				"say which values mean that the network took the text")
		}
	}
	return nil
}

// accepts reports whether the value at the place proves that the network took the text.
func (p proof) accepts(value string) bool {
	if len(p.is) == 0 {
		return value != "" && value != "false"
	}
	return slices.Contains(p.is, value)
}
