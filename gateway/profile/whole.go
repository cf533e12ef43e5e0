package profile

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	tree "text/template/parse"

	"github.com/antchfx/xmlquery"

	"rowbell/gateway/fault"
)

// A description is refused if a text could break what its templates write. Two checks when it is loaded show that no
// text can. No function of a template gets a text, so each text is written as it is, only escaped. And the output with
// the text hostile has the same values at the same places as the output with a plain word.

// leaf is a value in a body, and the place where it is.
type leaf struct{ at, value string }

// leaves returns all values that a network would read from a body, in an order that depends on their places only. It
// returns an error if the body is not in this syntax.
func (k syntax) leaves(body []byte, c Charset) (list []leaf, err error) {
	format := map[syntax]Format{plainText: Text, jsonString: JSON, xmlText: XML, formValue: Form}[k]
	d, err := Parse(format, c, body)
	if err != nil {
		return nil, err
	}
	switch k {
	case jsonString:
		return jsonLeaves(d.json, "", nil), nil
	case xmlText:
		return xmlLeaves(d.xml, "", nil), nil
	case formValue:
		for _, name := range slices.Sorted(maps.Keys(d.form)) {
			for _, v := range d.form[name] {
				if v, err = c.decode(v); err != nil {
					return nil, err
				}
				list = append(list, leaf{name, v})
			}
		}
		return list, nil
	}
	return []leaf{{"", d.text}}, nil
}

func jsonLeaves(v any, at string, list []leaf) []leaf {
	switch v := v.(type) {
	case string:
		return append(list, leaf{at, v})
	case []any:
		for i, item := range v {
			list = jsonLeaves(item, at+"/"+strconv.Itoa(i), list)
		}
		return append(list, leaf{at, "list"})
	case map[string]any:
		for _, name := range slices.Sorted(maps.Keys(v)) {
			list = jsonLeaves(v[name], at+"/"+name, list)
		}
		return append(list, leaf{at, "object"})
	}
	return append(list, leaf{at, fmt.Sprint(v)})
}

func xmlLeaves(n *xmlquery.Node, at string, list []leaf) []leaf {
	switch n.Type {
	case xmlquery.TextNode, xmlquery.CharDataNode:
		return append(list, leaf{at, n.Data})
	case xmlquery.ElementNode:
		at += "/" + n.Prefix + ":" + n.Data
		for _, a := range n.Attr {
			list = append(list, leaf{at + "/@" + a.Name.Space + ":" + a.Name.Local, a.Value})
		}
		list = append(list, leaf{at, "element"})
	}
	for child := n.FirstChild; child != nil; child = child.NextSibling {
		list = xmlLeaves(child, at, list)
	}
	return list
}

func values(leaves []leaf) (list []string) {
	for _, l := range leaves {
		list = append(list, l.value)
	}
	return list
}

// Plain words that a template is tried with, beside hostile. No template has them by chance.
const (
	plainWord    = "qwordq"
	plainSession = "qsessionq"
	plainID      = "qidq"
)

// comesWhole reports whether body, which was written with the text in place of the plain words, has the same values at
// the same places as plain, which was written with the plain words.
func (k syntax) comesWhole(plain, body []byte, text string, c Charset) bool {
	want, err1 := k.leaves(plain, c)
	got, err2 := k.leaves(body, c)
	if err1 != nil || err2 != nil {
		return false
	}
	arrives := k.received(text, c)
	in := strings.NewReplacer(plainWord, arrives, plainSession, arrives, plainID, arrives,
		ucs2Hex(plainWord), ucs2Hex(text))
	for i := range want {
		want[i].value = in.Replace(want[i].value)
	}
	empty := func(l leaf) bool { return l.value == "" } // an empty text is no node of an XML document
	return slices.Equal(slices.DeleteFunc(want, empty), slices.DeleteFunc(got, empty))
}

// errNotWhole is the error for a template that writes a text, a session or an id so that it is not read back as it was.
func (k syntax) errNotWhole() error {
	hint := ""
	switch k {
	case jsonString:
		hint = " not in a name,"
	case xmlText:
		hint = " not in a name or in CDATA,"
	case formValue:
		hint = " not in a key,"
	}
	return fault.Under("body", fmt.Errorf("a text would not come whole: {{.Text}}, {{.Session}} and {{.ID}} stand "+
		"where a value of %s does,%s and not in more than one coding", k, hint))
}

// free are the values of templates that any text can be, or that are different for each text. Others come from the
// description or have a fixed form.
var free = map[string]bool{"Text": true, "TextHex": true, "Session": true, "ID": true, "To": true, "ToDigits": true}

var errFunction = errors.New("a function gets no text, session, id or phone number: each stands alone, as in {{.Text}}")

// changesText reports whether a function of the template gets one of the free values: what it makes of the text hostile
// does not show what it makes of another text, for example a shorter one.
func changesText(n tree.Node) bool {
	branch := func(b *tree.BranchNode) bool {
		return changesText(b.Pipe) || changesText(b.List) || changesText(b.ElseList)
	}
	switch n := n.(type) {
	case *tree.ListNode: // nil, if there is no {{else}}
		return n != nil && slices.ContainsFunc(n.Nodes, changesText)
	case *tree.ActionNode:
		return changesText(n.Pipe)
	case *tree.IfNode:
		return branch(&n.BranchNode)
	case *tree.WithNode:
		return branch(&n.BranchNode)
	case *tree.RangeNode:
		return branch(&n.BranchNode)
	case *tree.PipeNode:
		alone := len(n.Cmds) == 1 && len(n.Cmds[0].Args) == 1
		return !alone && !isBounded(n)
	}
	return false
}

// isBounded reports whether an argument of a function is none of the free values. Of a variable and of the dot it is
// not known what they are.
func isBounded(n tree.Node) bool {
	switch n := n.(type) {
	case *tree.PipeNode:
		return !slices.ContainsFunc(n.Cmds, func(c *tree.CommandNode) bool {
			return slices.ContainsFunc(c.Args, func(n tree.Node) bool { return !isBounded(n) })
		})
	case *tree.FieldNode:
		return !free[n.Ident[0]]
	case *tree.VariableNode:
		return n.Ident[0] == "$" && len(n.Ident) > 1 && !free[n.Ident[1]]
	case *tree.DotNode, *tree.ChainNode:
		return false
	}
	return true
}
