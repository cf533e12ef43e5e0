package profile

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/antchfx/xpath"
)

// Namespaces gives the XML namespace of each prefix in the XPaths of a call or an answer. A document may use other
// prefixes for them. Without Namespaces, a prefix in an XPath is the prefix as the document writes it. A name without a
// prefix always means a name that the document writes without one.
type Namespaces map[string]string

// prefixForm matches a prefix: the ASCII letters of an NCName of Namespaces in XML 1.0.
var prefixForm = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.-]*$`)

// check refuses prefixes and namespaces that cannot work, and all of them for a format other than XML.
func (n Namespaces) check(format Format) error {
	if len(n) > 0 && format != XML {
		return errors.New("only XML has namespaces")
	}
	for _, prefix := range slices.Sorted(maps.Keys(n)) {
		switch {
		case !prefixForm.MatchString(prefix):
			return fmt.Errorf("%q is not a prefix such as s", prefix)
		case strings.HasPrefix(strings.ToLower(prefix), "xml"): // reserved by Namespaces in XML 1.0 section 3
			return fmt.Errorf("%s: no prefix may begin with xml: choose another", prefix)
		case n[prefix] == "":
			return fmt.Errorf("%s: say which namespace it is for, as in the network's documents", prefix)
		}
	}
	return nil
}

// anyOfPrefix matches an XPath step such as s:*. The library compiles such a step, but it never matches an element.
var anyOfPrefix = regexp.MustCompile(`[^:\s]\s*:\s*\*`)

// undeclared matches the library's error about a prefix that is not in Namespaces.
var undeclared = regexp.MustCompile(`prefix (.*) not defined`)

// compile parses an XPath.
func (n Namespaces) compile(at string) (*path, error) {
	if anyOfPrefix.MatchString(at) {
		return nil, errors.New("this XPath cannot be worked out: there is no * after a prefix")
	}
	compile := xpath.Compile
	if len(n) > 0 {
		compile = func(at string) (*xpath.Expr, error) { return xpath.CompileWithNS(at, n) }
	}
	expr, err := compile(at)
	if err != nil {
		if found := undeclared.FindStringSubmatch(err.Error()); found != nil {
			return nil, fmt.Errorf("the prefix %s of this XPath is not in namespaces", found[1])
		}
		return nil, errors.New("this is not an XPath such as /call/@from")
	}
	p := &path{expr: expr}
	if _, err := p.value(navigator(emptyXML)); err != nil {
		return nil, errors.New("this XPath cannot be worked out")
	}
	return p, nil
}
