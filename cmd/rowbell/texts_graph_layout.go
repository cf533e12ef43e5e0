package main

import (
	"embed"
	"encoding/json"
	"fmt"

	"github.com/dop251/goja"
)

// The layered layout is dagre's (github.com/dagrejs/dagre, MIT licence: its
// dist/dagre.min.js of version 3.1.3, whose sum a test holds), run in goja: 7 MB in the binary, and nothing is loaded before it is asked for. Of
// the others that could be had, Graphviz compiled to WebAssembly takes a second
// and a half at the start of every command and leaves machine code in a shared
// folder; diagram libraries that bring a layout of their own make the binary
// larger than 30 MB.
//
//go:embed dagre
var dagre embed.FS

// graphBox is a box to be placed, in pixels.
type graphBox struct {
	W, H int
}

// graphPlaced says where the boxes went.
type graphPlaced struct {
	Width, Height float64
	Boxes         []graphPoint            // centres, in the order given
	Edges         map[[2]int][]graphPoint // the turns of an edge between two boxes, its ends included
}

type graphPoint struct{ X, Y float64 }

// flip turns everything upside down.
func (p *graphPlaced) flip() {
	for i := range p.Boxes {
		p.Boxes[i].Y = p.Height - p.Boxes[i].Y
	}
	for _, turns := range p.Edges {
		for i := range turns {
			turns[i].Y = p.Height - turns[i].Y
		}
	}
}

// graphLayer places boxes in layers from left to right, edges being pairs of
// boxes. The same boxes and edges always come out the same.
type graphLayer func(boxes []graphBox, edges [][2]int) (graphPlaced, error)

// dagreNeeds is what dagre expects of a browser: it copies lists of names.
const dagreNeeds = `var structuredClone = (v) => JSON.parse(JSON.stringify(v));`

const dagreScript = `(function(asked) {
	const { boxes, edges, gap, between } = JSON.parse(asked);
	const g = new dagre.graphlib.Graph();
	g.setGraph({ rankdir: "LR", nodesep: gap, edgesep: gap, ranksep: between });
	g.setDefaultEdgeLabel(() => ({}));
	boxes.forEach((b, i) => g.setNode(String(i), { width: b.W, height: b.H }));
	edges.forEach(([from, to]) => g.setEdge(String(from), String(to), {}));
	dagre.layout(g);
	const at = (p) => ({ x: p.x, y: p.y });
	return JSON.stringify({
		width: g.graph().width, height: g.graph().height,
		boxes: boxes.map((_, i) => at(g.node(String(i)))),
		edges: edges.map(([from, to]) => g.edge(String(from), String(to)).points.map(at)),
	});
})`

// newGraphLayer starts the layout's engine.
func newGraphLayer() (graphLayer, error) {
	source, err := dagre.ReadFile("dagre/dagre.min.js")
	if err != nil {
		return nil, err
	}
	vm := goja.New()
	if _, err := vm.RunScript("dagre.min.js", dagreNeeds+string(source)); err != nil {
		return nil, fmt.Errorf("layout: %w", err)
	}
	v, err := vm.RunString(dagreScript)
	if err != nil {
		return nil, fmt.Errorf("layout: %w", err)
	}
	lay, ok := goja.AssertFunction(v)
	if !ok {
		return nil, fmt.Errorf("layout: %T is not a function", v)
	}
	return func(boxes []graphBox, edges [][2]int) (graphPlaced, error) {
		asked, err := json.Marshal(map[string]any{"boxes": boxes, "edges": edges, "gap": graphGap, "between": graphBetween})
		if err != nil {
			return graphPlaced{}, err
		}
		v, err := lay(goja.Undefined(), vm.ToValue(string(asked)))
		if err != nil {
			return graphPlaced{}, fmt.Errorf("layout: %w", err)
		}
		var got struct {
			Width, Height float64
			Boxes         []graphPoint
			Edges         [][]graphPoint
		}
		if err := json.Unmarshal([]byte(v.String()), &got); err != nil {
			return graphPlaced{}, fmt.Errorf("layout: %w", err)
		}
		placed := graphPlaced{Width: got.Width, Height: got.Height, Boxes: got.Boxes, Edges: map[[2]int][]graphPoint{}}
		for i, e := range edges {
			placed.Edges[e] = got.Edges[i]
		}
		return placed, nil
	}, nil
}
