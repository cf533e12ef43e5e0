package text

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Kind is what sort of thing is wrong in a language file.
type Kind uint8

const (
	Faulty  Kind = iota + 1 // not in the form of doc.go
	Missing                 // a text that the source language has
	Unknown                 // a text that the source language has not
	Values                  // a value that the text is not given
	Letters                 // a character that the alphabet lacks and no rule rewrites
	Clash                   // a word that stands for two things
)

// String names the kind: "missing".
func (k Kind) String() string {
	switch k {
	case Faulty:
		return "faulty"
	case Missing:
		return "missing"
	case Unknown:
		return "unknown"
	case Values:
		return "wrong values"
	case Letters:
		return "letters"
	case Clash:
		return "clash"
	}
	return "no kind"
}

// Problem is one thing that is wrong in a language file.
type Problem struct {
	Lang   string // its tag, as the file is named
	Kind   Kind
	File   string
	Line   int    // 0 where there is none, as for what is missing
	Column int    // of a mistake in TOML itself, else 0
	Key    string // "" for the file as a whole
	What   string
	Source string // of a missing text: its words in the source language
}

// String tells where and what: "fr.toml:12: home.ask: is empty".
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	for _, n := range []int{p.Line, p.Column} {
		if n > 0 {
			fmt.Fprintf(&b, ":%d", n)
		}
	}
	if p.Key != "" {
		b.WriteString(": " + p.Key)
	}
	return b.String() + ": " + p.What
}

// Problems are all that is wrong in the files of a catalogue. They are the
// error of Load, found with errors.As.
type Problems []Problem

func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, problem := range p {
		lines[i] = problem.String()
	}
	return strings.Join(lines, "\n")
}

// keyLines finds the line on which each key of a TOML document stands, its
// names joined by dots. The document has been parsed before; where it cannot be
// read again the lines are left out.
func keyLines(data []byte) map[string]int {
	n := notes{data: data, line: 1, lines: map[string]int{}}
	var p unstable.Parser
	p.Reset(data)
	table := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = n.key(e, "")
		case unstable.KeyValue:
			n.value(e, table)
		}
	}
	return n.lines
}

// notes counts lines as keys come, one after the other: to count from the
// beginning for each would make the start of the service slow.
type notes struct {
	data     []byte
	at, line int // an offset and the line it is in
	lines    map[string]int
}

func (n *notes) value(e *unstable.Node, in string) {
	key := n.key(e, in)
	if v := e.Value(); v.Kind == unstable.InlineTable {
		for it := v.Children(); it.Next(); {
			n.value(it.Node(), key)
		}
	}
}

// key notes the line of a key and returns the whole of it.
func (n *notes) key(e *unstable.Node, in string) string {
	var names []string
	if in != "" {
		names = append(names, in)
	}
	for it := e.Key(); it.Next(); {
		names = append(names, string(it.Node().Data))
		if at := int(it.Node().Raw.Offset); at > n.at {
			n.line += bytes.Count(n.data[n.at:at], []byte("\n"))
			n.at = at
		}
	}
	key := strings.Join(names, ".")
	n.lines[key] = n.line
	return key
}
