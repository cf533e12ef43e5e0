package profile

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/antchfx/xmlquery"
)

// maxPlaces is how many places of a document are listed, far more than a call of a network has values.
const maxPlaces = 40

// maxPlace is the greatest length of a place that is shown, in characters.
const maxPlace = 100

// Places lists the places of the call or answer that have a value, as a description writes them. It is for the person
// who describes a network.
func (d *Document) Places() []string {
	list := d.bodyPlaces()
	if len(list) > maxPlaces {
		list = append(list[:maxPlaces:maxPlaces], "…")
	}
	for i, place := range list {
		list[i] = oneLine(place)
	}
	if d.format != Query {
		for _, name := range slices.Sorted(maps.Keys(d.query)) {
			list = append(list, oneLine("query:"+name))
		}
	}
	for _, name := range ownHeaders(d.header) {
		if name != "Authorization" {
			list = append(list, "header:"+name)
		}
	}
	return list
}

func (d *Document) bodyPlaces() (list []string) {
	switch {
	case d.form != nil && d.request != nil:
		list = slices.Sorted(maps.Keys(d.request.form))
	case d.form != nil:
		list = slices.Sorted(maps.Keys(d.form))
	case d.node != nil:
		if n, ok := d.node.(*xmlquery.NodeNavigator); ok {
			list = xmlPlaces(n.Current(), "", nil)
		}
	case d.xml != nil:
		list = xmlPlaces(d.xml, "", nil)
	case d.format == Text:
		list = []string{"*"}
		for i := range strings.Fields(d.text) {
			list = append(list, fmt.Sprint(i+1))
		}
	default:
		list = jsonPlaces(d.json, "", nil)
	}
	return list
}

// Lists returns the places of the lists in a JSON document, as the key each of a description writes them.
func (d *Document) Lists() []string {
	var list []string
	var walk func(v any, at string)
	walk = func(v any, at string) {
		switch v := v.(type) {
		case map[string]any:
			for _, name := range slices.Sorted(maps.Keys(v)) {
				walk(v[name], at+"/"+escapeToken.Replace(name))
			}
		case []any:
			if at == "" {
				at = "#"
			}
			list = append(list, oneLine(at))
		}
	}
	walk(d.json, "")
	return list[:min(len(list), maxPlaces)]
}

// Namespace returns the namespace of an XML document's root, or "".
func (d *Document) Namespace() string {
	if d.xml == nil {
		return ""
	}
	return oneLine(d.root().NamespaceURI)
}

// root returns the root element of an XML document. Each parsed document has one: see checkXML.
func (d *Document) root() *xmlquery.Node { return xmlquery.FindOne(d.xml, "/*") }

// oneLine returns a name from a call so that it can be shown: without what cannot be printed, and not too long.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return utf8.RuneError
		}
		return r
	}, s)
	if runes := []rune(s); len(runes) > maxPlace {
		s = string(runes[:maxPlace]) + "…"
	}
	return s
}

var escapeToken = strings.NewReplacer("~", "~0", "/", "~1")

func jsonPlaces(v any, at string, list []string) []string {
	switch v := v.(type) {
	case map[string]any:
		for _, name := range slices.Sorted(maps.Keys(v)) {
			list = jsonPlaces(v[name], at+"/"+escapeToken.Replace(name), list)
		}
	case []any:
		for i, member := range v {
			list = jsonPlaces(member, fmt.Sprintf("%s/%d", at, i), list)
		}
	case nil:
	default:
		if at == "" {
			at = "#"
		}
		list = append(list, at)
	}
	return list
}

// xmlPlaces appends the places below n: attributes, and elements without child elements. Each is listed once.
func xmlPlaces(n *xmlquery.Node, at string, list []string) []string {
	below := at + "/"
	if n.Type != xmlquery.DocumentNode && at == "" {
		below = "" // the places of an item begin at the item
	}
	for _, a := range n.Attr {
		if a.Name.Space != "xmlns" && a.Name.Local != "xmlns" {
			list = appendNew(list, below+"@"+qualified(a.Name.Space, a.Name.Local))
		}
	}
	for child := n.FirstChild; child != nil; child = child.NextSibling {
		if child.Type != xmlquery.ElementNode {
			continue
		}
		place := below + qualified(child.Prefix, child.Data)
		list = xmlPlaces(child, place, list)
		if child.SelectElement("*") == nil {
			list = appendNew(list, place)
		}
	}
	return list
}

func qualified(prefix, name string) string {
	if prefix == "" {
		return name
	}
	return prefix + ":" + name
}

func appendNew(list []string, s string) []string {
	if slices.Contains(list, s) {
		return list
	}
	return append(list, s)
}

// Compared compares an answer with the description: found are the described places with what stands there, missing the
// described places without a value, and all the places of the answer that have a value.
func (p Push) Compared(a Answer) (found, missing, all []string) {
	r := p.read(a)
	if r.doc == nil || r.isHTML() {
		return nil, nil, nil
	}
	fields := []Field{p.id, p.success.at}
	for _, rule := range p.outcomes {
		fields = append(fields, rule.at)
	}
	for _, f := range fields {
		value, problem := r.value(f)
		switch {
		case !f.Sent():
		case problem != "":
			missing = appendNew(missing, f.At)
		default:
			found = appendNew(found, r.place(f)+" is "+r.shown(value))
		}
	}
	return found, missing, r.doc.Places()
}
