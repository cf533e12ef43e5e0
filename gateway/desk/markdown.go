package desk

import (
	"bytes"
	"fmt"
	"html/template"
	"path"
	"regexp"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// manual turns the Markdown of the manual into HTML. HTML in the Markdown is left out.
type manual struct{ markdown goldmark.Markdown }

// newManual returns a manual. Links to other pages lead to their paths in the desk.
func newManual(pages []HelpPage) manual {
	links := pageLinks{}
	for _, p := range pages {
		links[p.Name+".md"] = "/desk/help/" + p.Name
	}
	frames := renderer.WithNodeRenderers(util.Prioritized(frames{}, 100)) // before those of the library
	return manual{goldmark.New(goldmark.WithRendererOptions(frames),
		goldmark.WithExtensions(extension.NewTable(
			extension.WithTableCellAlignMethod(extension.TableCellAlignNone))), // the others are inline styles
		goldmark.WithParserOptions(parser.WithAutoHeadingID(),
			parser.WithASTTransformers(util.Prioritized(links, 100))))}
}

func (m manual) html(markdown string) (template.HTML, error) {
	var b bytes.Buffer
	if err := m.markdown.Convert([]byte(markdown), &b); err != nil {
		return "", fmt.Errorf("desk: the manual: %w", err)
	}
	// The library has escaped all text, and writes no HTML of the Markdown.
	return template.HTML(b.String()), nil
}

// pageLinks fits a page into the desk: the key is a file of the manual, the value its path in the desk.
type pageLinks map[string]string

// Transform implements parser.ASTTransformer. It removes the first heading, which is the title of the page, and leads
// links to pages of the desk. What is not served becomes plain text.
func (l pageLinks) Transform(doc *ast.Document, _ text.Reader, _ parser.Context) {
	if h, ok := doc.FirstChild().(*ast.Heading); ok && h.Level == 1 {
		doc.RemoveChild(doc, h)
	}
	var links []*ast.Link
	var images []*ast.Image
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) { // the function returns no error
		switch n := n.(type) {
		case *ast.Link:
			if entering {
				links = append(links, n)
			}
		case *ast.Image:
			if entering {
				images = append(images, n)
			}
		case *tables.TableCell:
			if entering && n.Alignment == tables.AlignRight {
				n.SetAttributeString("class", []byte("figure"))
			}
		}
		return ast.WalkContinue, nil
	})
	for _, n := range images {
		unwrap(n)
	}
	for _, n := range links {
		if to := l.to(string(n.Destination)); to != "" {
			n.Destination = []byte(to)
		} else {
			unwrap(n)
		}
	}
}

var webAddress = regexp.MustCompile(`^https://`)

// to returns where a link leads in the desk; "" if to nothing that is served.
func (l pageLinks) to(link string) string {
	file, part, _ := strings.Cut(link, "#")
	if part != "" {
		part = "#" + part
	}
	switch {
	case file == "":
		return part
	case webAddress.MatchString(link):
		return link
	case l[path.Base(file)] != "":
		return l[path.Base(file)] + part
	}
	return ""
}

// unwrap puts what a node contains in its place.
func unwrap(n ast.Node) {
	parent := n.Parent()
	for c := n.FirstChild(); c != nil; c = n.FirstChild() {
		parent.InsertBefore(parent, n, c)
	}
	parent.RemoveChild(parent, n)
}

// frames draws what may be wider than a phone in a frame that slides, and that the keyboard reaches.
type frames struct{}

// RegisterFuncs implements renderer.NodeRenderer.
func (f frames) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(tables.KindTable, f.table)
	r.Register(ast.KindCodeBlock, f.code)
	r.Register(ast.KindFencedCodeBlock, f.code)
}

func (frames) table(w util.BufWriter, _ []byte, _ ast.Node, entering bool) (ast.WalkStatus, error) {
	if entering {
		_, err := w.WriteString(`<div class="scroll" tabindex="0" role="group" aria-label="Table">` +
			`<table class="sheet">`)
		return ast.WalkContinue, err
	}
	_, err := w.WriteString("</table></div>\n")
	return ast.WalkContinue, err
}

func (frames) code(w util.BufWriter, source []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		return ast.WalkContinue, nil
	}
	_, _ = w.WriteString(`<pre tabindex="0"><code>`)
	for i := range n.Lines().Len() {
		line := n.Lines().At(i)
		html.DefaultWriter.RawWrite(w, line.Value(source))
	}
	_, err := w.WriteString("</code></pre>\n")
	return ast.WalkContinue, err
}
