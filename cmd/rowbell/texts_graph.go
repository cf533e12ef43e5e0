package main

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"os"
	"slices"
	"strings"

	"rowbell/menu"
)

// writeGraph draws the whole menu in a language as an SVG document into a file,
// and says on out what it drew.
func writeGraph(out io.Writer, m *menu.Menu, language, name, file string) error {
	g, err := m.Graph(language)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := drawGraph(&b, g, name); err != nil {
		return err
	}
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s: %d screens, %d ways, in %s\n", file, len(g.Nodes), len(g.Ways), name)
	return nil
}

// graphBranches are the parts of the menu, each a drawing of its own, by the
// first word of its screens' names.
var graphBranches = []struct {
	title string
	words []string
}{
	{"Home", []string{"tongue", "language", "welcome", "who", "declined", "home", "more", "place", "number", "stop", "stopped", "started", "erase", "erased", "doubt"}},
	{"New plot", []string{"new", "saved"}},
	{"My plots", []string{"plots", "plot", "so-far", "close", "closed"}},
	{"Change and tell more", []string{"change", "changed", "tell"}},
	{"I weeded", []string{"pass"}},
	{"What I see", []string{"see"}},
	{"Water", []string{"water"}},
	{"Work", []string{"work", "risk"}},
	{"Money", []string{"costs", "hire"}},
	{"Compare two ways", []string{"trial"}},
	{"Planting", []string{"planting", "nursery"}},
	{"Order for the smith", []string{"smith"}},
	{"Tool", []string{"tools", "check", "strip", "trouble"}},
	{"Help and safety", []string{"help"}},
}

// graphBranch is one drawing: its screens in the menu's order.
type graphBranch struct {
	Number int
	Title  string
	nodes  []menu.Node
}

// branchesOf parts the screens. Those of a word that no branch names have one
// of their own.
func branchesOf(g menu.Graph) []graphBranch {
	var words []string // of each branch, joined
	var branches []graphBranch
	for _, b := range graphBranches {
		words, branches = append(words, " "+strings.Join(b.words, " ")+" "), append(branches, graphBranch{Title: b.title})
	}
	for _, n := range g.Nodes {
		word, _, _ := strings.Cut(string(n.ID), ".")
		i := slices.IndexFunc(words, func(w string) bool { return strings.Contains(w, " "+word+" ") })
		if i < 0 {
			i = len(branches)
			words, branches = append(words, " "+word+" "), append(branches, graphBranch{Title: word})
		}
		branches[i].nodes = append(branches[i].nodes, n)
	}
	branches = slices.DeleteFunc(branches, func(b graphBranch) bool { return len(b.nodes) == 0 })
	for i := range branches {
		branches[i].Number = i + 1
	}
	return branches
}

// drawGraph writes a menu as an SVG document. It tells by words and shapes as
// well as by colour, and holds no script and no font of its own.
func drawGraph(w io.Writer, g menu.Graph, language string) error {
	c, err := newGraphCanvas(g, language)
	if err != nil {
		return err
	}
	return graphTemplate.Execute(w, c)
}

//go:embed texts_graph.svg.tmpl
var graphSource string

// The template escapes whatever a catalogue says.
var graphTemplate = template.Must(template.New("graph").Parse(graphSource))
