// Package manual holds the pages of the operator's manual as Markdown files, which are embedded in the binary, with the
// files that other programs use: the unit for systemd, the compose file, the alarms and the description of the wire
// format. The package has no code of the service. Tests in cmd/rowbell run every command that a page shows, and check
// every configuration block, every printed line and every file.
package manual

import (
	"embed"
	"fmt"
	"slices"
	"strings"
)

//go:embed *.md rowbell.service compose.yaml alarms.yaml wire.openapi.yaml
var files embed.FS

// names lists the pages in the order in which a new operator should read them.
var names = []string{
	"first-day", "grower", "planning", "circles", "turns", "dates", "worth", "networks", "trust", "several",
	"answers", "wire", "sending", "desk", "people", "files", "numbers", "backup", "records", "growing", "postgres",
	"moving",
	"processes", "failover", "running", "watching", "alarms", "changing", "upgrade", "languages", "places", "figures",
	"sizes", "tuning", "threats",
}

// ready lists the files that are used as they are, by other programs. The pages say how.
var ready = []Page{
	{Name: "rowbell.service", Title: "The service under systemd"},
	{Name: "compose.yaml", Title: "The service in a container"},
	{Name: "alarms.yaml", Title: "Alarms for Prometheus"},
	{Name: "wire.openapi.yaml", Title: "Our own wire format in OpenAPI"},
}

// Page is one page of the manual.
type Page struct {
	Name  string // the word to type after "rowbell manual"
	Title string // the first heading of the page
	Text  string // the whole page as Markdown; of a file its content
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

// Files returns the files that are used as they are.
func Files() []Page {
	list := slices.Clone(ready)
	for i := range list {
		b, err := files.ReadFile(list[i].Name)
		if err != nil {
			panic(err) // a name without a file is a bug, which a test finds: the test reads every file
		}
		list[i].Text = string(b)
	}
	return list
}

// Read returns the page or the file with this name. If there is none, the error lists all names.
func Read(name string) (Page, error) {
	list := Files()
	if i := slices.IndexFunc(list, func(p Page) bool { return p.Name == name }); i >= 0 {
		return list[i], nil
	}
	b, err := files.ReadFile(name + ".md")
	if err != nil {
		known := slices.Clone(names)
		for _, f := range list {
			known = append(known, f.Name)
		}
		return Page{}, fmt.Errorf("no page %q in the manual; there are: %s", name, strings.Join(known, ", "))
	}
	title, _, _ := strings.Cut(string(b), "\n")
	return Page{Name: name, Title: strings.TrimPrefix(title, "# "), Text: string(b)}, nil
}
