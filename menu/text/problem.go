package text

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Kind is the kind of a mistake in a language file.
type Kind uint8

const (
	Faulty  Kind = iota + 1 // violates the format that the package comment describes
	Missing                 // the language lacks a text that the source language has
	Unknown                 // the language has a text that the source language lacks
	Values                  // a placeholder is missing, or the source language does not have it
	Letters                 // a character is not in the alphabet, and no rule replaces it
	Clash                   // a word that growers type has two meanings, such as two commands
)

// Problem is one mistake in a language file.
type Problem struct {
	Lang   string // tag of the language
	Kind   Kind
	File   string
	Line   int    // 0: the mistake is in no line, for example a missing text
	Column int    // 0 if the mistake is no TOML syntax error
	Key    string // "" if the mistake is about the whole file
	What   string
	Source string // only for a missing text: this text in the source language
}

// String returns the position and the mistake: "fr.toml:12: home.ask: is empty".
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

// Problems has all mistakes in the files of a catalogue. Use errors.As to get it from the error that Load returns.
type Problems []Problem

func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, problem := range p {
		lines[i] = problem.String()
	}
	return strings.Join(lines, "\n")
}

// linesOfKeys returns the line number of each key in a TOML document, which must be valid. The map's keys are dotted
// names, such as sms.help.
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

// lineCounter counts the lines from one key to the next. To count from the beginning of the file for each key would
// make the start of the service slow.
type lineCounter struct {
	data     []byte
	at, line int // an offset in data, and the number of the line at this offset
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

// key records the line of a key and returns the key's dotted name.
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
