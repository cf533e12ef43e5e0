// Package manual holds the pages of the operator's manual as Markdown files,
// embedded in the binary. What lives here is text for people who run or use
// the service and the description of the wire format; no code of the service.
// Every command, configuration block and printed line that a page shows is run
// or read by a test in cmd/rowbell.
package manual

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed *.md
var files embed.FS

// names lists the pages in the order in which one reads them.
var names = []string{
	"first-day", "grower", "planning", "networks", "wire", "sending", "people", "numbers", "backup", "watching",
	"languages", "places", "figures", "threats",
}

// Page is one page of the manual.
type Page struct {
	Name  string // as typed behind "rowbell manual"
	Title string // its first heading
	Text  string // Markdown, whole
}

// Pages returns all pages in reading order.
func Pages() []Page {
	pages := make([]Page, 0, len(names))
	for _, name := range names {
		p, err := Read(name)
		if err != nil {
			panic(err) // a name without a file: a test reads every page
		}
		pages = append(pages, p)
	}
	return pages
}

// Read returns the page called name. The error names the pages there are.
func Read(name string) (Page, error) {
	b, err := files.ReadFile(name + ".md")
	if err != nil {
		return Page{}, fmt.Errorf("no page %q in the manual; there are: %s", name, strings.Join(names, ", "))
	}
	title, _, _ := strings.Cut(string(b), "\n")
	return Page{Name: name, Title: strings.TrimPrefix(title, "# "), Text: string(b)}, nil
}
