package text

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Kind is the kind of a problem in a language file.
type Kind uint8

const (
	Faulty  Kind = iota + 1 // not of the form that the package comment describes
	Missing                 // a text of the source language is not there
	Unknown                 // the source language has no such text
	Values                  // a placeholder that the source language does not have, or too few
	Letters                 // a character that the alphabet lacks and no rule rewrites
	Clash                   // one word with two meanings
)

// Problem is one mistake in a language file.
type Problem struct {
	Lang   string // tag of the language
	Kind   Kind
	File   string
	Line   int    // 0: the problem has no line, as for a missing text
	Column int    // only for a syntax error of TOML, else 0
	Key    string // "": the problem is one of the whole file
	What   string
	Source string // of a missing text: the text in the source language
}

// String returns position and problem: "fr.toml:12: home.ask: is empty".
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

// Problems are all mistakes in the files of a catalogue. Find them in the error of Load with errors.As.
type Problems []Problem

func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, problem := range p {
		lines[i] = problem.String()
	}
	return strings.Join(lines, "\n")
}

// linesOfKeys finds the line of each key of a TOML document, by the dotted name
// of the key. The document must have been parsed without an error.
func linesOfKeys(data []byte) map[string]int {
	n := lineCounter{data: data, line: 1, lines: map[string]int{}}
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

// lineCounter counts lines from key to key: to count from the beginning for each
// key would slow down the start of the service.
type lineCounter struct {
	data     []byte
	at, line int // an offset in data, and the line of this offset
	lines    map[string]int
}

func (n *lineCounter) value(e *unstable.Node, in string) {
	key := n.key(e, in)
	if v := e.Value(); v.Kind == unstable.InlineTable {
		for it := v.Children(); it.Next(); {
			n.value(it.Node(), key)
		}
	}
}

// key records the line of a key and returns its dotted name.
func (n *lineCounter) key(e *unstable.Node, in string) string {
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
