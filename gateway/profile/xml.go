package profile

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strconv"
	"strings"
	"sync"

	"github.com/antchfx/xmlquery"
	"github.com/antchfx/xpath"
)

var (
	errXML     = CallError("The body is not well-formed XML.")
	errDTD     = CallError("The body has a document type or another declaration; these are not read.")
	errTokens  = CallError("The body has too many elements.")
	errXPath   = CallError("This cannot be worked out of the body.")
	emptyXML   = &xmlquery.Node{Type: xmlquery.DocumentNode}
	xmlVersion = []byte("<?xml")
)

// parseXML parses an XML document that is already in UTF-8. It refuses a document type (DOCTYPE), whose entities could
// expand without limit or fetch files.
func parseXML(body []byte, charset Charset) (*xmlquery.Node, error) {
	body = bytes.TrimSpace(body)
	if bytes.HasPrefix(body, xmlVersion) {
		end := bytes.Index(body, []byte("?>"))
		if end < 0 {
			return nil, errXML
		}
		if name := xmlEncoding(string(body[:end])); name != "" && !charset.is(name) {
			return nil, CallError("The body says that it is in another charset than " + charset.String() + ".")
		}
		body = body[end+2:]
	}
	if err := checkXML(body); err != nil {
		return nil, err
	}
	strict := xmlquery.ParserOptions{Decoder: &xmlquery.DecoderOptions{Strict: true}}
	doc, err := xmlquery.ParseWithOptions(bytes.NewReader(body), strict)
	if err != nil {
		return nil, errXML
	}
	return doc, nil
}

// xmlEncoding returns the encoding that an XML declaration names, or "" if the declaration names none.
func xmlEncoding(declaration string) string {
	_, rest, ok := strings.Cut(declaration, "encoding")
	rest = strings.TrimLeft(rest, " \t\r\n=")
	if !ok || rest == "" || rest[0] != '"' && rest[0] != '\'' {
		return ""
	}
	name, _, _ := strings.Cut(rest[1:], rest[:1])
	return name
}

// checkXML checks the limits of a body before the tree is built. It also refuses mistakes that the library which builds
// the tree accepts: two root elements, text outside the root element, and an attribute that an element has twice.
func checkXML(body []byte) error {
	d := xml.NewDecoder(bytes.NewReader(body))
	depth, roots := 0, 0
	for n := 0; ; n++ {
		token, err := d.Token()
		switch {
		case errors.Is(err, io.EOF):
			if roots != 1 {
				return errXML
			}
			return nil
		case err != nil:
			return errXML
		case n == maxTokens:
			return errTokens
		}
		switch t := token.(type) {
		case xml.StartElement:
			if depth++; depth > maxDepth {
				return errDepth
			}
			if depth == 1 {
				roots++
			}
			for i, a := range t.Attr {
				for _, b := range t.Attr[:i] {
					if a.Name == b.Name {
						return errXML
					}
				}
			}
		case xml.EndElement:
			depth--
		case xml.CharData:
			if depth == 0 && len(bytes.TrimSpace(t)) > 0 {
				return errXML
			}
		case xml.Directive, xml.ProcInst:
			return errDTD
		}
	}
}

// path is an XPath that all calls of a network share. Only one call evaluates it at a time, because the evaluation
// changes expr.
type path struct {
	mu   sync.Mutex
	expr *xpath.Expr
}

func navigator(doc *xmlquery.Node) xpath.NodeNavigator { return xmlquery.CreateXPathNavigator(doc) }

// context returns the node at which the document's paths are evaluated: the element of an item, or the document.
func (d *Document) context() xpath.NodeNavigator {
	if d.node != nil {
		return d.node.Copy()
	}
	return navigator(d.xml)
}

func (p *path) evaluate(at xpath.NodeNavigator) any {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.expr.Evaluate(at)
}

// nodes returns the nodes that the path matches. The nodes remember their document, so that an absolute path that is
// evaluated at one of them begins at the root.
func (p *path) nodes(doc *xmlquery.Node) (list []xpath.NodeNavigator, err error) {
	defer func() {
		if recover() != nil { // as in value
			list, err = nil, errXPath
		}
	}()
	nodes, ok := p.evaluate(navigator(doc)).(*xpath.NodeIterator)
	if !ok {
		return nil, errXPath
	}
	for nodes.MoveNext() {
		list = append(list, nodes.Current().Copy())
	}
	return list, nil
}

// value evaluates the path: a string, or nil if nothing matches. Several matches are an error.
func (p *path) value(at xpath.NodeNavigator) (v any, err error) {
	defer func() {
		if recover() != nil { // the library panics on a path that it cannot evaluate
			v, err = nil, errXPath
		}
	}()
	switch got := p.evaluate(at).(type) {
	case string:
		return got, nil
	case float64:
		return strconv.FormatFloat(got, 'f', -1, 64), nil
	case *xpath.NodeIterator:
		if !got.MoveNext() {
			return nil, nil
		}
		value := got.Current().Value()
		if got.MoveNext() {
			return nil, ErrTwice
		}
		return value, nil
	}
	return nil, errXPath
}
