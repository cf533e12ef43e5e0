package config

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// position is a place in the file, from 1. A line of 0 is nowhere in the file.
type position struct{ line, column int }

// node is a value in the file: a *table, a []*node, or what the TOML decoder makes of a value.
type node struct {
	path    string
	key, at position // of the last name of the key, and of the value
	value   any
}

// table has the keys of a table in the order of the file.
type table struct {
	keys   []*tableKey
	header position // of [NAME]; nowhere if only keys made the table
}

type tableKey struct {
	name string
	*node
}

func (t *table) find(name string) *node {
	for _, k := range t.keys {
		if k.name == name {
			return k.node
		}
	}
	return nil
}

func (t *table) add(name string, n *node) {
	t.keys = append(t.keys, &tableKey{name, n})
}

// document is a file as a tree of values. The TOML decoder itself stops at the first mistake and does not know the
// positions of values that it could read.
type document struct {
	root   *table
	nodes  map[string]*node // by path
	lines  []int            // the offset at which each line begins
	parser unstable.Parser
	report *report
	top    map[string]bool // the names of the settings that stand in no table
}

// readDocument reads all that can be read, and reports each key or table that is set twice. A syntax error ends the
// reading; then whole is false.
func readDocument(b []byte, r *report) (d *document, whole bool) {
	b = bytes.TrimPrefix(b, []byte("\ufeff")) // which some editors write before a file
	d = &document{root: &table{}, nodes: map[string]*node{}, lines: []int{0}, report: r}
	for i, octet := range b {
		if octet == '\n' {
			d.lines = append(d.lines, i+1)
		}
	}
	if bad := firstInvalid(b); bad >= 0 {
		r.syntax(d.at(bad), "this is not UTF-8: save the file as UTF-8")
		return d, false
	}
	d.parser.Reset(b)
	in, path := d.root, ""
	for d.parser.NextExpression() {
		switch e := d.parser.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			in, path = d.header(e)
		case unstable.KeyValue:
			d.keyValue(in, path, e)
		}
	}
	var syntax *unstable.ParserError
	if errors.As(d.parser.Error(), &syntax) {
		r.syntax(d.at(int(d.parser.Range(syntax.Highlight).Offset)), explainSyntax(syntax.Message))
		return d, false
	}
	d.decodeErrors(b)
	return d, true
}

// firstInvalid returns the offset of the first octet that is not UTF-8 text; -1 if there is none. Editors that save as
// UTF-16 write NUL octets.
func firstInvalid(b []byte) int {
	for i := 0; i < len(b); {
		r, size := utf8.DecodeRune(b[i:])
		if r == 0 || r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}

// decodeErrors reports an error that only the TOML decoder finds, such as a table that is a value elsewhere.
func (d *document) decodeErrors(b []byte) {
	if len(d.report.found) > 0 {
		return // the decoder stops at its first error, which may be one of these
	}
	var all map[string]any
	var wrong *toml.DecodeError
	if errors.As(toml.Unmarshal(b, &all), &wrong) {
		line, column := wrong.Position()
		d.report.add(position{line, column}, "", explainSyntax(strings.TrimPrefix(wrong.Error(), "toml: ")))
	}
}

func (d *document) position(n *unstable.Node) position {
	if n.Raw.Length == 0 {
		return position{}
	}
	return d.at(int(n.Raw.Offset))
}

// at returns the position of an octet of the file.
func (d *document) at(offset int) position {
	line, found := slices.BinarySearch(d.lines, offset)
	if found {
		line++
	}
	return position{line, offset - d.lines[line-1] + 1}
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)

// join adds a name to a path. It quotes a name with characters that no setting has, because they could break the line.
func join(path, name string) string {
	if !bareKey.MatchString(name) {
		name = strconv.Quote(name)
	}
	if path == "" {
		return name
	}
	return path + "." + name
}

// descend returns the table with this name in t. It makes the table if there is none. Of a list of tables it returns
// the last. It returns nil if the name has a value that is no table.
func (d *document) descend(t *table, path, name string, at position) (*table, string) {
	path = join(path, name)
	n := t.find(name)
	if n == nil {
		n = &node{path: path, key: at, at: at, value: &table{}}
		t.add(name, n)
		d.nodes[path] = n
	}
	switch v := n.value.(type) {
	case *table:
		return v, path
	case []*node:
		if len(v) > 0 {
			if last, ok := v[len(v)-1].value.(*table); ok {
				return last, v[len(v)-1].path
			}
		}
	}
	d.report.add(at, path, fmt.Sprintf("this has a value in line %d: it cannot have keys too", n.at.line))
	return nil, path
}

// header reads [NAME] or [[NAME]], and returns the table that the following keys belong to.
func (d *document) header(e *unstable.Node) (*table, string) {
	var names []*unstable.Node
	for it := e.Key(); it.Next(); {
		names = append(names, it.Node())
	}
	in, path := d.root, ""
	for i, n := range names {
		name, at := string(n.Data), d.position(n)
		if i == len(names)-1 && e.Kind == unstable.ArrayTable {
			return d.entry(in, path, name, at)
		}
		if in, path = d.descend(in, path, name, at); in == nil {
			return &table{}, path
		}
	}
	at := d.position(names[len(names)-1])
	if in.header.line > 0 {
		d.report.add(at, path, fmt.Sprintf("this table is there twice: put all of it into the one in line %d",
			in.header.line))
	}
	in.header = at
	return in, path
}

// entry adds a table to the list of tables with this name.
func (d *document) entry(in *table, path, name string, at position) (*table, string) {
	path = join(path, name)
	n := in.find(name)
	if n == nil {
		n = &node{path: path, key: at, at: at, value: []*node{}}
		in.add(name, n)
		d.nodes[path] = n
	}
	list, ok := n.value.([]*node)
	if !ok {
		d.report.add(at, path, fmt.Sprintf("this is a list of tables, [[ ]], and in line %d one table, [ ]: "+
			"write [[ ]] in both", n.at.line))
		return &table{}, path
	}
	t := &table{header: at}
	entry := &node{path: fmt.Sprintf("%s[%d]", path, len(list)+1), key: at, at: at, value: t}
	n.value = append(list, entry)
	d.nodes[entry.path] = entry
	return t, entry.path
}

// keyValue reads a key and its value into a table.
func (d *document) keyValue(in *table, path string, e *unstable.Node) {
	var names []*unstable.Node
	for it := e.Key(); it.Next(); {
		names = append(names, it.Node())
	}
	for _, n := range names[:len(names)-1] {
		if in, path = d.descend(in, path, string(n.Data), d.position(n)); in == nil {
			return
		}
	}
	last := names[len(names)-1]
	name, at := string(last.Data), d.position(last)
	path = join(path, name)
	if had := in.find(name); had != nil {
		d.report.add(at, path, fmt.Sprintf("this is set twice: keep one, this or line %d", had.key.line))
		return
	}
	n := d.read(path, at, e.Value())
	in.add(name, n)
}

// read reads a value and all values in it.
func (d *document) read(path string, key position, v *unstable.Node) *node {
	n := &node{path: path, key: key, at: d.position(v)}
	if n.at.line == 0 { // the parser has no position of a list
		n.at = key
	}
	d.nodes[path] = n
	switch v.Kind {
	case unstable.InlineTable:
		t := &table{header: n.at}
		n.value = t
		for it := v.Children(); it.Next(); {
			d.keyValue(t, path, it.Node())
		}
	case unstable.Array:
		list := []*node{}
		for it := v.Children(); it.Next(); {
			list = append(list, d.read(fmt.Sprintf("%s[%d]", path, len(list)+1), n.at, it.Node()))
		}
		n.value = list
	case unstable.String:
		n.value = string(v.Data)
	default:
		var one struct{ V any }
		err := toml.Unmarshal([]byte("V = "+string(d.parser.Raw(v.Raw))), &one)
		n.value = one.V
		if err != nil {
			d.report.add(n.at, path, strings.TrimPrefix(err.Error(), "toml: "))
		}
	}
	return n
}

// find returns the position of the value with this path or, if the file does not have it, of the nearest table above
// it. exact is false for a table above.
func (d *document) find(path string) (at position, exact bool) {
	exact = true
	for path != "" {
		if n := d.nodes[path]; n != nil {
			return n.at, exact
		}
		exact = false
		cut := strings.LastIndexAny(path, ".[")
		path = path[:max(cut, 0)]
	}
	return position{}, false
}

// explainSyntax replaces a message about a syntax error by advice on its usual cause. It returns other messages
// unchanged.
func explainSyntax(message string) string {
	for _, w := range []struct{ part, words string }{
		{"at start of value",
			"a value is words in quotes (\", not \u201c \u201d), a number, true or false in small letters, " +
				"a list in [ ] or a table in { }"},
		{"expected newline but got",
			"something stands behind the value: words have a quote (\") on both sides, " +
				"words with \" in them stand in ', a number has a point and no comma"},
		{"strings cannot have new lines", "the quote at the end is missing"},
		{"not terminated by", "three quotes at the end are missing"},
		{"unterminated", "the quote at the end is missing"},
		{"expected '=' after key", "a = and the value must follow the name"},
		{"at start of key", "this is no name: a name has letters, digits, _ and -"},
		{"expected value, not end of input", "the value is missing"},
		{"strings must be quoted", "words stand in quotes (\")"},
		{"to close table name", "the ] at the end is missing"},
		{"to close array table name", "the ]] at the end is missing"},
		{"array is incomplete", "the ] at the end is missing"},
		{"after array value", "a comma must stand between the values of a list, and a ] at its end"},
		{"after inline table key-value", "a comma must stand between the values in { }, and a } at the end"},
		{"inline table is incomplete", "the } at the end is missing"},
		{"invalid escape character", `a \ in words in " stands for a special character: write \\, or use '`},
		{"leading zeroes", "a number does not begin with 0; a number that is dialled stands in quotes"},
	} {
		if strings.Contains(message, w.part) {
			return w.words
		}
	}
	return message
}
