package desk

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

//go:embed pages
var pageFiles embed.FS

//go:embed assets
var assetFiles embed.FS

// pageTemplates returns a template for each file in pages, together with the layout. They are parsed with the first
// desk, so that a mistake stops the start and not a reader, and commands without a desk do not wait.
var pageTemplates = sync.OnceValue(parsePages)

func parsePages() map[string]*template.Template {
	layout := template.Must(template.New("").Funcs(template.FuncMap{
		"day": shortDay, "date": longDay, "plural": plural, "join": strings.Join,
		"count": func(n int64, one, many string) string { return plural(int(n), one, many) },
	}).ParseFS(pageFiles, "pages/shared/*.html"))
	names, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil {
		panic("desk: " + err.Error())
	}
	all := map[string]*template.Template{}
	for _, name := range names {
		all[strings.TrimSuffix(path.Base(name), ".html")] =
			template.Must(template.Must(layout.Clone()).ParseFS(pageFiles, name))
	}
	return all
}

// shortDay returns a day such as "2 Jun".
func shortDay(d engine.Day) string { return d.At(12, time.UTC).Format("2 Jan") }

// longDay returns a day such as "2 Jun 2026".
func longDay(d engine.Day) string { return d.At(12, time.UTC).Format("2 Jan 2006") }

// plural returns a number with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprint(n, " ", many)
}

// view has the values that all templates use; Data is that of the page. In a page $ is the view.
type view struct {
	Title string
	Note  string
	Self  store.Staff // the zero value before log-in
	Nav   []navItem
	Now   time.Time
	Path  string // of this page, for the field "back"
	Form  *form
	Data  any
	r     *request
}

// navItem is a link of the navigation.
type navItem struct {
	Path, Label string
	Current     bool
}

// nav lists the pages of the navigation after This morning, with the right that each needs.
var nav = []struct {
	path, label string
	right       right
}{
	{"/desk/growers", "Growers", see},
	{"/desk/circles", "Circles", see},
	{"/desk/letters", "Letters", write},
	{"/desk/report", "Report", see},
	{"/desk/places", "Places", see},
	{"/desk/import", "Files", change},
	{"/desk/networks", "Networks", run},
	{"/desk/texts", "Texts", run},
	{"/desk/staff", "Staff", run},
	{"/desk/trail", "Trail", call},
	{"/desk/help", "Help", see},
}

func (r *request) navItems() (items []navItem) {
	if r.staff.ID == 0 {
		return nil
	}
	if r.may(see) {
		items = append(items, navItem{"/desk/", "This morning", r.URL.Path == "/desk/"})
	}
	for _, n := range nav {
		if r.may(n.right) {
			current := r.URL.Path == n.path || strings.HasPrefix(r.URL.Path, n.path+"/") ||
				strings.HasPrefix(r.URL.Path, strings.TrimSuffix(n.path, "s")+"/") || // the page of one of the list
				n.path == "/desk/import" && r.URL.Path == "/desk/export" // both are under Files
			items = append(items, navItem{n.path, n.label, current})
		}
	}
	if r.d.o.Practice {
		items = append(items, navItem{"/practice/", "Practice phones", false})
	}
	return items
}

// page answers with a page.
func (r *request) page(name, title string, data any) error {
	return r.answer(http.StatusOK, name, title, data)
}

// again answers with the page of a form that has mistakes.
func (r *request) again(name, title string, data any) error {
	return r.answer(http.StatusUnprocessableEntity, name, title, data)
}

// failed answers with a page that says what went wrong and what to do.
func (r *request) failed(status int, title, what string) error {
	return r.answer(status, "failed", title, what)
}

func (r *request) answer(status int, name, title string, data any) error {
	t := r.d.pages[name]
	if t == nil {
		return fmt.Errorf("desk: there is no template %s", name)
	}
	v := &view{Title: title, Self: r.staff, Nav: r.navItems(), Now: r.now, Path: r.URL.RequestURI(), Form: r.form,
		Data: data, r: r}
	if r.d.sessions.Exists(r.Context(), keyNote) {
		v.Note = r.d.sessions.PopString(r.Context(), keyNote)
	}
	var page bytes.Buffer
	if err := t.ExecuteTemplate(&page, "layout", v); err != nil {
		return fmt.Errorf("desk: page %s: %w", name, err)
	}
	r.done = true
	r.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	r.w.WriteHeader(status)
	_, _ = r.w.Write(page.Bytes()) // the browser may have hung up
	return nil
}

// May reports whether the reader has a right, by its name.
func (v *view) May(name string) (bool, error) {
	for i, n := range rightNames {
		if n == name {
			return v.r.may(right(i)), nil
		}
	}
	return false, fmt.Errorf("there is no right %q", name)
}

// Number returns a phone number as the reader may see it.
func (v *view) Number(p store.Phone) string { return v.r.number(p) }

// Place returns the name of a place.
func (v *view) Place(id int64) string { return v.r.placeName(id) }

// Instant returns an instant in Unix seconds in the zone of a place; 0 stands for the first place of the reader.
func (v *view) Instant(at int64, placeID int64) string {
	return time.Unix(at, 0).In(v.r.zone(placeID)).Format("2 Jan 2006 15:04")
}

// Machine returns an instant for the attribute datetime.
func (v *view) Machine(at int64) string { return time.Unix(at, 0).UTC().Format(time.RFC3339) }

// assets serves the style sheet, the script and the pictures. They change only with the program, so a browser may keep
// them for an hour.
func assets() http.Handler {
	files, err := fs.Sub(assetFiles, "assets")
	if err != nil {
		panic("desk: " + err.Error())
	}
	server := http.StripPrefix("/desk/assets/", http.FileServerFS(files))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/") {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Cache-Control", "private, max-age=3600")
		server.ServeHTTP(w, r)
	})
}
