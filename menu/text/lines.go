package text

import (
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// keyLines finds the line on which each key of a TOML document stands, its
// names joined by dots. The document has been parsed before; where it cannot be
// read again the lines are left out.
func keyLines(data []byte) map[string]int {
	lines := map[string]int{}
	var p unstable.Parser
	p.Reset(data)
	table := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = noteKey(&p, e, "", lines)
		case unstable.KeyValue:
			noteValue(&p, e, table, lines)
		}
	}
	return lines
}

func noteValue(p *unstable.Parser, e *unstable.Node, in string, lines map[string]int) {
	key := noteKey(p, e, in, lines)
	if v := e.Value(); v.Kind == unstable.InlineTable {
		for it := v.Children(); it.Next(); {
			noteValue(p, it.Node(), key, lines)
		}
	}
}

// noteKey notes the line of a key and returns the whole of it.
func noteKey(p *unstable.Parser, e *unstable.Node, in string, lines map[string]int) string {
	var names []string
	if in != "" {
		names = append(names, in)
	}
	line := 0
	for it := e.Key(); it.Next(); {
		names = append(names, string(it.Node().Data))
		line = p.Shape(it.Node().Raw).Start.Line
	}
	key := strings.Join(names, ".")
	lines[key] = line
	return key
}
