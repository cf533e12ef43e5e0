package booklet

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed page.html.tmpl
var pageSource string

// pageTemplate is of html/template, which escapes the texts of the catalogue and the names from the records.
var pageTemplate = template.Must(template.New("page").Parse(pageSource))

// HTML writes the booklet as one page for printing on A4. The page has no scripts and needs no other files. A page
// break never divides a screen.
func (b Booklet) HTML(w io.Writer) error { return pageTemplate.Execute(w, b) }

// Outline writes the booklet as plain text: the chapters, the first line of each screen, and the answers with the
// numbers of the screens that they lead to. If the booklet has several languages, each line is written in all of them.
func (b Booklet) Outline(w io.Writer) error {
	var out strings.Builder
	for _, c := range b.Chapters {
		fmt.Fprintf(&out, "%d. %s\n", c.Number, strings.Join(c.Titles, " | "))
		for _, s := range c.Screens {
			number := fmt.Sprint(s.Number)
			for _, f := range s.Faces {
				fmt.Fprintf(&out, "%5s  %s\n", number, f.first())
				number = "" // only the line in the first language has the number
			}
			for _, f := range s.Faces {
				for _, l := range f.answers() {
					fmt.Fprintf(&out, "         %s %s\n", l.Text, l.lead())
				}
				if f.Typed != nil {
					fmt.Fprintf(&out, "         %q %s\n", f.Typed.Text, f.Typed.lead())
				}
			}
		}
		out.WriteByte('\n')
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// answers returns the lines of a screen that are answers.
func (f Face) answers() []Line {
	var answers []Line
	for _, page := range f.Pages {
		for _, l := range page {
			if l.IsAnswer() {
				answers = append(answers, l)
			}
		}
	}
	return append(answers, f.Others...)
}

// lead returns the sign that is printed after an answer: "→ 12" or "→ 12, 14" (the numbers of the screens), "↩" (back),
// "…" (the dialogue goes on after the screen of the doubted entry).
func (l Line) lead() string {
	switch {
	case l.Back:
		return "↩"
	case l.Onward:
		return "…"
	}
	numbers := make([]string, len(l.To))
	for i, n := range l.To {
		numbers[i] = fmt.Sprint(n)
	}
	return "→ " + strings.Join(numbers, ", ")
}
