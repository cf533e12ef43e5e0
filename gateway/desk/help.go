package desk

import (
	"html/template"
	"slices"
)

// HelpPage is a page of the manual.
type HelpPage struct {
	Name     string // letters and hyphens, part of its path
	Title    string
	Markdown string // its first heading is the title; links to other pages are NAME.md
}

func (d *Desk) helpRoutes() []route {
	return []route{
		{"GET /desk/help", see, nil, d.helpList},
		{"GET /desk/help/{page}", see, nil, d.helpPage},
	}
}

func (d *Desk) helpList(r *request) error { return r.page("help", "Help", d.o.Manual) }

type helpView struct {
	Text           template.HTML
	Before, Behind *HelpPage // in reading order; nil: none
}

func (d *Desk) helpPage(r *request) error {
	at := slices.IndexFunc(d.o.Manual, func(p HelpPage) bool { return p.Name == r.PathValue("page") })
	if at < 0 {
		return errNotFound
	}
	text, err := d.manual.html(d.o.Manual[at].Markdown)
	if err != nil {
		return err
	}
	v := helpView{Text: text}
	if at > 0 {
		v.Before = &d.o.Manual[at-1]
	}
	if at+1 < len(d.o.Manual) {
		v.Behind = &d.o.Manual[at+1]
	}
	return r.page("manual", d.o.Manual[at].Title, v)
}
