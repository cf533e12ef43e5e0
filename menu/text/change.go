package text

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Form is one form of a text. A plural text has several, each with the name of its category in the CLDR, such as "one".
// Any other text has one form without a name.
type Form struct{ Name, Text string }

// Forms returns the forms of a text as its file has them, in the order of the CLDR; nil for an unknown language or
// text.
func (c *Catalogue) Forms(lang string, k Key) (list []Form) {
	e, known := c.language(lang).texts[k]
	switch {
	case !known:
		return nil
	case e.forms == nil:
		return []Form{{"", e.single.String()}}
	}
	for _, name := range categoryNames {
		if t := e.forms[categories[name]]; t != nil {
			list = append(list, Form{name, t.String()})
		}
	}
	return list
}

// ErrByHand is the error for a language file in which Change cannot change a text.
var ErrByHand = errors.New("the file is written in a way that only a person can change")

// Change returns the content of a language file with another text for a key. All else in the file stays, also its
// comments and the order of its lines. A key that the file lacks is added to its table, and a table that the file lacks
// at the end. Change does not check the text itself: Inspect does.
func Change(file []byte, k Key, forms []Form) ([]byte, error) {
	table, name, ok := cutLast(string(k))
	if !ok || len(forms) == 0 {
		return nil, fmt.Errorf("text: %q is not the key of a text", k)
	}
	var was map[string]any
	if err := toml.Unmarshal(file, &was); err != nil {
		return nil, fmt.Errorf("text: %w", err)
	}
	want := put(was, strings.Split(string(k), "."), valueOf(forms))
	for _, candidate := range candidates(file, table, name, forms) {
		var got map[string]any
		if toml.Unmarshal(candidate, &got) == nil && reflect.DeepEqual(got, want) {
			return candidate, nil
		}
	}
	return nil, fmt.Errorf("text: %s: %w", k, ErrByHand)
}

func cutLast(key string) (table, name string, ok bool) {
	i := strings.LastIndexByte(key, '.')
	if i <= 0 {
		return "", "", false
	}
	return key[:i], key[i+1:], true
}

// valueOf returns the forms of a text as TOML decodes them.
func valueOf(forms []Form) any {
	if len(forms) == 1 && forms[0].Name == "" {
		return forms[0].Text
	}
	all := map[string]any{}
	for _, f := range forms {
		all[f.Name] = f.Text
	}
	return all
}

// put returns a copy of a document with another value at a path. Tables that do not change are shared.
func put(doc map[string]any, path []string, value any) map[string]any {
	out := map[string]any{}
	for k, v := range doc {
		out[k] = v
	}
	if len(path) == 1 {
		out[path[0]] = value
		return out
	}
	inner, _ := doc[path[0]].(map[string]any)
	out[path[0]] = put(inner, path[1:], value)
	return out
}

// candidates returns the documents among which Change looks for the one that says what is wanted: each form changed
// where it stands, the text changed where it stands, a line added to its table, and a table added at the end.
func candidates(file []byte, table, name string, forms []Form) (list [][]byte) {
	key := table + "." + name
	whole := inline(forms)
	lines := linesOfKeys(file)
	each := file
	for _, f := range forms {
		if line := lines[strings.TrimSuffix(key+"."+f.Name, ".")]; line > 0 && each != nil {
			each = replaceValue(each, line, quote(f.Text))
		} else {
			each = nil
		}
	}
	list = append(list, each)
	if line := lines[key]; line > 0 {
		list = append(list, replaceValue(file, line, whole))
	}
	entry := name + " = " + whole + "\n"
	if at := endOfTable(file, table); at >= 0 {
		list = append(list, slices.Concat(file[:at], lineBreakBefore(file[:at]), []byte(entry), file[at:]))
	}
	if outer, inner, ok := cutLast(table); ok { // a table that is written as dotted keys of another
		if at := endOfTable(file, outer); at >= 0 {
			dotted := []byte(inner + "." + entry)
			list = append(list, slices.Concat(file[:at], lineBreakBefore(file[:at]), dotted, file[at:]))
		}
	}
	list = append(list, slices.Concat(file, lineBreakBefore(file), []byte("\n["+table+"]\n"+entry)))
	return slices.DeleteFunc(list, func(b []byte) bool { return b == nil })
}

func lineBreakBefore(b []byte) []byte {
	if len(b) == 0 || b[len(b)-1] == '\n' {
		return nil
	}
	return []byte("\n")
}

// inline writes a text as the value of a key.
func inline(forms []Form) string {
	if len(forms) == 1 && forms[0].Name == "" {
		return quote(forms[0].Text)
	}
	var list []string
	for _, f := range forms {
		list = append(list, f.Name+" = "+quote(f.Text))
	}
	return "{ " + strings.Join(list, ", ") + " }"
}

// quote writes a basic string of TOML 1.0 on one line.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// header matches the line of a table.
var header = regexp.MustCompile(`(?m)^[ \t]*\[[ \t]*([^\[\]\r\n]*?)[ \t]*\][ \t]*(#.*)?\r?$`)

// endOfTable returns the offset after the last line with content of a table; -1 if the file has no such table.
func endOfTable(file []byte, table string) int {
	all := header.FindAllSubmatchIndex(file, -1)
	for i, m := range all {
		if string(file[m[2]:m[3]]) != table {
			continue
		}
		end := len(file)
		if i+1 < len(all) {
			end = all[i+1][0]
		}
		return m[1] + lengthOfContent(file[m[1]:end])
	}
	return -1
}

// lengthOfContent returns the length of a table without the comments and empty lines at its end, which are about what
// follows.
func lengthOfContent(b []byte) (length int) {
	at := 0
	for line := range bytes.Lines(b) {
		at += len(line)
		if s := bytes.TrimSpace(line); length == 0 || len(s) > 0 && s[0] != '#' {
			length = at
		}
	}
	return length
}

// replaceValue replaces the value of the key that begins on a line, counted from 1; nil if no value is found there.
func replaceValue(file []byte, line int, value string) []byte {
	at := 0
	for range line - 1 {
		at += bytes.IndexByte(file[at:], '\n') + 1
	}
	equals := bytes.IndexByte(file[at:], '=')
	if equals < 0 {
		return nil
	}
	at += equals + 1
	at += len(file[at:]) - len(bytes.TrimLeft(file[at:], " \t"))
	length := lengthOfValue(file[at:])
	if length == 0 {
		return nil
	}
	return slices.Concat(file[:at], []byte(value), file[at+length:])
}

// lengthOfValue returns the length of the string or inline table with which b begins; 0 if b begins with neither.
func lengthOfValue(b []byte) int {
	for _, quotes := range []string{`"""`, `'''`, `"`, `'`} {
		if bytes.HasPrefix(b, []byte(quotes)) {
			return lengthOfString(b, quotes)
		}
	}
	if len(b) == 0 || b[0] != '{' {
		return 0
	}
	for i := 1; i < len(b) && b[i] != '\n'; i++ {
		switch b[i] {
		case '}':
			return i + 1
		case '{', '#':
			return 0
		case '"', '\'':
			n := lengthOfString(b[i:], string(b[i]))
			if n == 0 {
				return 0
			}
			i += n - 1
		}
	}
	return 0
}

// lengthOfString returns the length of a string that begins with these quotes; 0 if it does not end.
func lengthOfString(b []byte, quotes string) int {
	escapes := quotes[0] == '"'
	for i := len(quotes); i < len(b); i++ {
		switch {
		case escapes && b[i] == '\\':
			i++
		case len(quotes) == 1 && b[i] == '\n':
			return 0
		case bytes.HasPrefix(b[i:], []byte(quotes)):
			end := i + len(quotes)
			for len(quotes) == 3 && end < len(b) && end < i+5 && b[end] == quotes[0] { // quotes before the last three
				end++
			}
			return end
		}
	}
	return 0
}
