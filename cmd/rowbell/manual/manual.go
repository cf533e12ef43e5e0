// Package manual holds the pages of the operator's manual as Markdown files, which are embedded in the binary. The
// package has the texts for people who run or use the service, and the description of the wire format, but no code of
// the service. Tests in cmd/rowbell run every command that a page shows, and check every configuration block and every
// printed line on the pages.
package manual

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed *.md
var files embed.FS

// names lists the pages in the order in which a new operator should read them.
var names = []string{
	"first-day", "grower", "planning", "circles", "turns", "dates", "worth", "networks", "trust", "several",
	"answers", "wire", "sending", "desk", "people", "files", "numbers", "backup", "records", "growing", "postgres",
	"moving",
	"processes", "failover", "watching", "changing", "languages", "places", "figures", "sizes", "threats",
}

// Page is one page of the manual.
type Page struct {
	Name  string // the word to type after "rowbell manual"
	Title string // the first heading of the page
	Text  string // the whole page as Markdown
}

// Pages returns all pages in reading order.
func Pages() []Page {
	pages := make([]Page, 0, len(names))
	for _, name := range names {
		p, err := Read(name)
		if err != nil {
			panic(err) // a name without a file is a bug, which a test finds: the test reads every page
		}
		pages = append(pages, p)
	}
	return pages
}

// Read returns the page with this name. If there is no such page, the error lists the names of all pages.
func Read(name string) (Page, error) {
	b, err := files.ReadFile(name + ".md")
	if err != nil {
		return Page{}, fmt.Errorf("no page %q in the manual; there are: %s", name, strings.Join(names, ", "))
	}
	title, _, _ := strings.Cut(string(b), "\n")
	return Page{Name: name, Title: strings.TrimPrefix(title, "# "), Text: string(b)}, nil
}
