package profile

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"github.com/antchfx/xpath"
)

// A network may put several texts or receipts, the items, into one call. The key each of the description says where the
// items are:
//
//   - in json, the JSON pointer of a list; "#", the whole document by RFC 6901 section 6, if the body is the list;
//   - in xml, an XPath whose matches are the items;
//   - in form and query, the name of a key that occurs once for each item. The n-th value of every key belongs to the
//     n-th item.
//
// The places of an item's values are relative to the item: a JSON pointer begins at the item, and an XPath is evaluated
// at the item's element. A place with the prefix "request:" is of the whole call, and so are query:NAME, header:NAME
// and an XPath that begins at the root.

// requestPrefix is the prefix of a place that is relative to the whole call although the call has items.
const requestPrefix = "request:"

// ItemsError says why a call cannot be divided into items.
type ItemsError struct {
	At     string // the place in the call, as the description writes it
	Detail string // a sentence for the network, which never shows a part of the call
}

func (e ItemsError) Error() string { return e.Detail }

// newEach reads the place of the items.
func newEach(format Format, at string, names Namespaces) (Field, error) {
	for _, prefix := range []string{"query:", "header:", requestPrefix} {
		if strings.HasPrefix(at, prefix) {
			return Field{}, errors.New("the items are in the body, or in the query if body is query")
		}
	}
	f, err := newField(format, at, names)
	switch {
	case err != nil || at == "":
	case format == Text:
		err = errors.New("the body text has no items; they are in form, query, json or xml")
	case f.path != nil:
		if _, nodes := f.path.evaluate(navigator(emptyXML)).(*xpath.NodeIterator); !nodes {
			err = errors.New("this XPath gives a value and not the elements of the items, such as /flock/bird")
		}
	}
	return f, err
}

// Batch reports whether a call may have several items.
func (c Call) Batch() bool { return c.each.Sent() }

// Whole reports whether a value is of the whole call, so that it is the same for all items.
func (f Field) Whole() bool { return f.whole || f.Sent() && f.source != inBody }

// Items returns a document for each item of a call, in which the values of the item are found. A call that has no items
// by its description is returned as its only item. If such a call has further items all the same, Items returns an
// error, because they would be lost. Every error is an ItemsError.
func (c Call) Items(d *Document) ([]*Document, error) {
	if !c.Batch() {
		return []*Document{d}, c.checkOneItem(d)
	}
	switch c.Format {
	case JSON:
		return c.jsonItems(d)
	case XML:
		return c.xmlItems(d)
	}
	return c.formItems(d)
}

func (c Call) jsonItems(d *Document) ([]*Document, error) {
	v, _ := Pointer(c.each.place).Lookup(d.json)
	list, ok := v.([]any)
	if !ok {
		return nil, ItemsError{c.each.At, "There is no list here. The items of a request are in a list."}
	}
	var items []*Document
	for _, v := range list {
		item := *d
		item.json, item.request = v, d
		if err := c.checkOneItem(&item); err != nil {
			item.refused = err
		}
		items = append(items, &item)
	}
	return items, nil
}

func (c Call) xmlItems(d *Document) (items []*Document, err error) {
	nodes, err := c.each.path.nodes(d.xml)
	if err != nil {
		return nil, ItemsError{c.each.At, err.Error()}
	}
	for _, node := range nodes {
		item := *d
		item.node, item.request = node, d
		items = append(items, &item)
	}
	if items == nil {
		return nil, ItemsError{c.each.At, "There is no item here."}
	}
	return items, nil
}

// formItems divides a form. Every key of an item must occur as often as the key each, or not at all, because otherwise
// a value could be given to the wrong item.
func (c Call) formItems(d *Document) (items []*Document, err error) {
	n := len(d.form[c.each.name])
	if n == 0 {
		return nil, ItemsError{c.each.At, "There is no item here."}
	}
	for range n {
		item := *d
		item.form, item.request = url.Values{}, d
		items = append(items, &item)
	}
	for _, f := range c.fields {
		values := d.form[f.name]
		if f.Whole() || len(values) == 0 {
			continue
		}
		if len(values) != n {
			return nil, ItemsError{f.At, fmt.Sprintf("The numbers of values differ: this key has %d, the key %s "+
				"has %d. The first value of each key belongs to the first item.", len(values), c.each.name, n)}
		}
		for i, item := range items {
			item.form[f.name] = values[i : i+1]
		}
	}
	return items, nil
}

const furtherItems = "There are several items here, of which all but one would be lost. " +
	"The key each in the description of the network says where a request has its items."

// checkOneItem refuses a JSON document that has a list where the description expects one value or one object: a list on
// the way to a value, unless the description reads several members of that list, or a list in place of a value that
// every item needs. For a form and for XML, Value refuses a field that is there more than once.
func (c Call) checkOneItem(d *Document) error {
	if c.Format != JSON {
		return nil
	}
	read := map[string]map[string]bool{} // for each list on the way to a value: the indexes that are read
	type list struct {
		at    string
		field Field // a field that is in the list
	}
	var several []list // the lists of several members
	for _, f := range c.fields {
		if f.source != inBody || f.Whole() || f.place == "#" {
			continue
		}
		v, at := d.json, ""
		for token := range strings.SplitSeq(strings.TrimPrefix(f.place, "/"), "/") {
			if members, ok := v.([]any); ok {
				if _, err := strconv.Atoi(token); err != nil && len(members) > 0 {
					return ItemsError{f.At, furtherItems}
				}
				if read[at] == nil {
					read[at] = map[string]bool{}
				}
				read[at][token] = true
				if len(members) > 1 {
					several = append(several, list{at, f})
				}
			}
			at += "/" + token
			v, _ = Pointer("/" + token).Lookup(v)
		}
		if _, isList := v.([]any); isList && f.needed {
			return ItemsError{f.At, furtherItems}
		}
	}
	for _, l := range several {
		if len(read[l.at]) == 1 {
			return ItemsError{l.field.At, furtherItems}
		}
	}
	return nil
}
