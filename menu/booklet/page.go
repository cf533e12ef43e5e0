package booklet

import (
	_ "embed"
	"html/template"
	"io"
)

//go:embed page.html.tmpl
var pageSource string

// The template escapes whatever the catalogue and the records hold.
var pageTemplate = template.Must(template.New("page").Parse(pageSource))

// HTML writes the booklet as one page without scripts or other files, to be
// printed on A4. No screen is cut by the end of a page.
func (b Booklet) HTML(w io.Writer) error { return pageTemplate.Execute(w, b) }
