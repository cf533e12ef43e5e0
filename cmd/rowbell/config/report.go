package config

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rowbell/gateway/fault"
)

// Mistakes has all mistakes of a configuration file, sorted by line.
type Mistakes []Mistake

// Mistake is what is wrong with a line of the file.
type Mistake struct {
	Line, Column int    // from 1; 0: in no line, or in no column
	Key          string // the path of the key; "" for a syntax error and for what is not in the file
	What         string // what is wrong, and what to write instead
}

func (m Mistake) String() string {
	var parts []string
	switch {
	case m.Line > 0 && m.Column > 0:
		parts = append(parts, fmt.Sprintf("line %d, column %d", m.Line, m.Column))
	case m.Line > 0:
		parts = append(parts, fmt.Sprintf("line %d", m.Line))
	}
	if m.Key != "" {
		parts = append(parts, m.Key)
	}
	return strings.Join(append(parts, m.What), ": ")
}

// maxShown is how many mistakes an error lists. A file with more is likely no configuration of ours.
const maxShown = 25

// Error lists the mistakes, a line each.
func (l Mistakes) Error() string {
	if len(l) == 1 {
		return l[0].String()
	}
	lines := []string{fmt.Sprintf("%d mistakes:", len(l))}
	for _, m := range l[:min(len(l), maxShown)] {
		lines = append(lines, m.String())
	}
	if more := len(l) - maxShown; more > 0 {
		lines = append(lines, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(lines, "\n")
}

// report collects the mistakes of a file.
type report struct {
	found Mistakes
	// told has the paths of keys with a mistake. Further mistakes of such a key follow from the first one.
	told map[string]bool
	// unreadPaths has the paths of values of the wrong type. What is missing below them is no further mistake.
	unreadPaths []string
	// private has the values of the file that may be secrets: no message may show one.
	private []string
}

func (r *report) add(at position, path, what string) {
	if path != "" && r.told[path] {
		return
	}
	r.told[path] = true
	r.found = append(r.found, Mistake{at.line, at.column, path, what})
}

// syntax reports a mistake after which the file could not be read.
func (r *report) syntax(at position, what string) {
	r.add(at, "", what+" (the rest of the file was not read)")
}

// meant notes that a misspelt key likely stands for the key with this path, whose absence is then no further mistake.
func (r *report) meant(path string) {
	r.told[path] = true
}

// unread notes that the value with this path is of the wrong type.
func (r *report) unread(path string) { r.unreadPaths = append(r.unreadPaths, path) }

// faults reports the mistakes of err with their lines. If the file lacks the key, the line is that of the table of the
// key.
func (r *report) faults(d *document, err error) {
	for _, f := range fault.Of(err) {
		path := f.Path()
		follows := func(table string) bool {
			rest, in := strings.CutPrefix(path, table)
			return in && (rest == "" || rest[0] == '.' || rest[0] == '[')
		}
		if slices.ContainsFunc(r.unreadPaths, follows) || r.isTableOfUnread(path) || r.hidesProof(path) ||
			r.unreadNetwork(d.nodes[path]) {
			continue
		}
		at, exact := d.find(path)
		if !exact {
			at.column = 0
		}
		r.add(at, path, f.What)
	}
}

// isTableOfUnread reports whether path is a table with a value that could not be read. A contradiction between the
// values of such a table is no further mistake.
func (r *report) isTableOfUnread(path string) bool {
	return slices.ContainsFunc(r.unreadPaths, func(unread string) bool {
		return unread[:max(strings.LastIndexByte(unread, '.'), 0)] == path
	})
}

// hidesProof reports whether path is a push.success that may be missing only because an outcome has a mistake.
func (r *report) hidesProof(path string) bool {
	push, isProof := strings.CutSuffix(path, ".success")
	for told := range r.told {
		if isProof && strings.HasPrefix(told, push+".outcomes") {
			return true
		}
	}
	return false
}

var throughPath = regexp.MustCompile(`^routes\[\d+\]\.through\[\d+\]$`)

// unreadNetwork reports whether n is the name of a network in a route, and the table of that network has a mistake.
// Because of the mistake, the network may seem to be missing or to send no texts.
func (r *report) unreadNetwork(n *node) bool {
	if n == nil || !throughPath.MatchString(n.path) {
		return false
	}
	name, _ := n.value.(string)
	table := join("gateways", name)
	return r.told["gateways"] || r.told[table] || r.told[table+".push"] || r.told[table+".push.url"]
}

// err returns the mistakes, sorted by line, or nil.
func (r *report) err() error {
	if len(r.found) == 0 {
		return nil
	}
	slices.SortStableFunc(r.found, func(a, b Mistake) int {
		inFile := func(m Mistake) int { return min(1, m.Line) } // those that are in no line come last
		return cmp.Or(cmp.Compare(inFile(b), inFile(a)),
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	for i := range r.found {
		m := &r.found[i]
		for _, s := range r.private {
			for _, written := range []string{strconv.Quote(s), s} {
				m.What = strings.ReplaceAll(m.What, written, "…")
				m.Key = strings.ReplaceAll(m.Key, written, "…")
			}
		}
		m.Key, m.What = cut(m.Key), cut(oneLine.Replace(m.What))
	}
	return r.found
}

// maxWords is the greatest length of a message or a path, in characters: they may quote a value of any length.
const maxWords = 400

func cut(s string) string {
	if runes := []rune(s); len(runes) > maxWords {
		return string(runes[:maxWords]) + "…"
	}
	return s
}

var oneLine = strings.NewReplacer("\n", " ", "\r", " ")

// conceal notes the values and names below n that may be secrets: a URL may contain a password, and an operator may
// write a secret in place of the name of its environment variable.
func (r *report) conceal(name string, n *node, private bool) {
	private = private || name == "push" || name == "gateways"
	if whsecForm.MatchString(name) || private && longForm.MatchString(name) {
		r.private = append(r.private, name)
	}
	switch v := n.value.(type) {
	case string:
		if publicForm.MatchString(v) {
			return
		}
		mixed := len(v) >= 16 && !strings.Contains(v, " ") && strings.ContainsAny(v, "0123456789")
		if strings.Contains(v, "://") || whsecForm.MatchString(v) || private && (mixed || longForm.MatchString(v)) {
			r.private = append(r.private, v)
		}
	case []*node:
		for _, entry := range v {
			r.conceal("", entry, private)
		}
	case *table:
		for _, k := range v.keys {
			r.conceal(k.name, k.node, private)
		}
	}
}

var (
	whsecForm = regexp.MustCompile(`^whsec_`)
	// publicForm matches a content type, or addresses, which are no secrets although they are long.
	publicForm = regexp.MustCompile(`^(application/[a-z-]+|[0-9]{1,3}\.[0-9]{1,3}\.[0-9./-]+)$`)
	longForm   = regexp.MustCompile(`^[A-Za-z0-9+/=_-]{33,}$`)
)
