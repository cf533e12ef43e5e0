package text

import (
	"bytes"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

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
