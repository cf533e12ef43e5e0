package handset

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"rowbell/engine/picture"
)

//go:embed page
var pageFiles embed.FS

var pageTemplates = template.Must(template.New("").Funcs(template.FuncMap{
	"digits": digits, "row": worthRow, "bar": worthWidth,
}).ParseFS(pageFiles, "page/*.html"))

// policy is the value of the header Content-Security-Policy. It lets the browser load only files of the page's own
// site, and forbids inline scripts and styles.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// page serves the practice pages of one Room to browsers.
type page struct {
	room *Room
	desk Desk
}

// Desk has the paths by which somebody sees the other side of practice, the pages for staff. The zero value: there are
// none.
type Desk struct {
	Enter  string // of a form that logs in the account in its field "name"
	Name   string // of the field worker's account
	Events string // of a stream of server-sent events "change"
}

// Page returns the handler of the practice page and its API, under /practice. Every change is a form POST with a
// redirect back, so that the page works without JavaScript. A POST from another site is refused.
func Page(room *Room, desk Desk) http.Handler {
	p := page{room, desk}
	mux := http.NewServeMux()
	mux.Handle("GET /practice", http.RedirectHandler("/practice/", http.StatusSeeOther))
	mux.HandleFunc("GET /practice/{$}", p.shelf)
	mux.HandleFunc("GET /practice/phone/{number}", p.phone)
	mux.HandleFunc("GET /practice/worth", p.worth)
	mux.HandleFunc("GET /practice/{file}", p.file)
	mux.HandleFunc("POST /practice/api/phone", p.newPhone)
	mux.HandleFunc("POST /practice/api/again", p.beginAgainAll)
	for name, do := range map[string]action{
		"call": func(ctx context.Context, r *http.Request, number string) (string, error) {
			_, err := room.Call(ctx, number, r.PostFormValue("entry"))
			return "", err
		},
		"hang": func(ctx context.Context, _ *http.Request, number string) (string, error) {
			return "", room.Hang(ctx, number)
		},
		"sms": func(ctx context.Context, r *http.Request, number string) (string, error) {
			text := strings.TrimSpace(r.PostFormValue("text"))
			if text == "" {
				return "Write a text first.", nil
			}
			return "", room.Send(ctx, number, text)
		},
		"read": func(ctx context.Context, _ *http.Request, number string) (string, error) {
			return "", room.Read(ctx, number)
		},
		"next-day":  p.nextDay,
		"next-text": p.nextText,
		"again":     p.beginAgain,
	} {
		mux.Handle("POST /practice/api/phone/{number}/"+name, p.act(do))
	}
	return secure(http.NewCrossOriginProtection().Handler(mux))
}

func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// action does something with a phone and returns a sentence to show on its page, or "".
type action func(ctx context.Context, r *http.Request, number string) (note string, err error)

// act returns the handler that runs an action for the phone in the path. The handler then redirects the browser to the
// phone's page, which shows the sentence or the error that the action returned.
func (p page) act(do action) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, 1<<14)
		phone, ok := p.find(w, r)
		if !ok {
			return
		}
		note, err := do(r.Context(), r, phone.Number)
		if err != nil {
			note = err.Error()
		}
		p.room.note(phone.Number, note)
		http.Redirect(w, r, "/practice/phone/"+digits(phone.Number), http.StatusSeeOther)
	})
}

func (p page) nextDay(ctx context.Context, _ *http.Request, number string) (string, error) {
	before, err := p.room.Unread(ctx, number)
	if err != nil {
		return "", err
	}
	if err := p.room.NextDay(ctx); err != nil {
		return "", err
	}
	after, err := p.room.Unread(ctx, number)
	if err != nil || after == before {
		return "", err
	}
	return fmt.Sprintf("%s: a text came.", p.room.Now().Format("2 January")), nil
}

func (p page) nextText(ctx context.Context, _ *http.Request, number string) (string, error) {
	search, err := p.room.NextText(ctx, number)
	return search.String(), err
}

func (p page) beginAgain(ctx context.Context, _ *http.Request, _ string) (string, error) {
	if err := p.room.BeginAgain(ctx); err != nil {
		return "", err
	}
	return "Begun again: all phones are as they were on the first day.", nil
}

// beginAgainAll is beginAgain for the page with the list of phones.
func (p page) beginAgainAll(w http.ResponseWriter, r *http.Request) {
	if err := p.room.BeginAgain(r.Context()); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	http.Redirect(w, r, "/practice/", http.StatusSeeOther)
}

func (p page) newPhone(w http.ResponseWriter, r *http.Request) {
	phone, err := p.room.NewPhone(r.Context())
	if err != nil {
		http.Error(w, err.Error(), http.StatusConflict)
		return
	}
	http.Redirect(w, r, "/practice/phone/"+digits(phone.Number), http.StatusSeeOther)
}

// find returns the phone whose number is in the path, or answers the request with an error.
func (p page) find(w http.ResponseWriter, r *http.Request) (Phone, bool) {
	phone, ok, err := p.room.Phone(r.Context(), "+"+r.PathValue("number"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return Phone{}, false
	}
	if !ok {
		http.Error(w, "There is no such phone in the practice valley.", http.StatusNotFound)
	}
	return phone, ok
}

func (p page) file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	if strings.HasSuffix(name, ".html") {
		http.NotFound(w, r)
		return
	}
	http.ServeFileFS(w, r, pageFiles, "page/"+name)
}

// view has the values that the templates use.
type view struct {
	Now     time.Time // the instant that the calendar shows
	First   string    // the first day of practice, such as "1 Jun"
	Phones  []phoneView
	Circles []circlePhones // of the list of phones: those of each circle; Phones then has the others
	Phone   Phone
	Screen  Screen
	Code    string // the service's short code
	Note    string
	Entries []Entry // newest first
	Unread  int
	Seasons []drawnSeason
	Circle  *drawnCircle // nil: the phone's owner is in no circle that has a tool
	Desk    Desk
}

type phoneView struct {
	Phone
	Unread  int
	Current bool
}

// circlePhones are the phones of the members of a circle.
type circlePhones struct {
	Title  string
	Number int
	Phones []phoneView
}

type drawnSeason struct {
	seasonSummary
	Picture template.HTML
}

// view returns the values that every page needs. number is the phone that the page shows, or "" for the list of phones.
func (p page) view(ctx context.Context, number string) (view, error) {
	v := view{Now: p.room.Now(), First: shortDate(p.room.valley.First()), Code: p.room.code, Desk: p.desk}
	phones, err := p.room.Phones(ctx)
	if err != nil {
		return view{}, err
	}
	for _, phone := range phones {
		n, err := p.room.Unread(ctx, phone.Number)
		if err != nil {
			return view{}, err
		}
		v.Phones = append(v.Phones, phoneView{phone, n, phone.Number == number})
	}
	return v, nil
}

// shelf serves the page with the list of phones.
func (p page) shelf(w http.ResponseWriter, r *http.Request) {
	v, err := p.view(r.Context(), "")
	if err == nil {
		err = p.groupCircles(r.Context(), &v)
	}
	render(w, "shelf.html", v, err)
}

// groupCircles moves the phones of members of circles from v.Phones to v.Circles.
func (p page) groupCircles(ctx context.Context, v *view) error {
	phones := v.Phones
	v.Phones = nil
	for _, phone := range phones {
		c, in, err := p.room.valley.Circle(ctx, phone.Number)
		if err != nil {
			return err
		}
		s := circleSummary{Circle: c}
		if !in || !s.isMember(c.Self) {
			v.Phones = append(v.Phones, phone)
			continue
		}
		at := slices.IndexFunc(v.Circles, func(g circlePhones) bool { return g.Number == c.Number })
		if at < 0 {
			at = len(v.Circles)
			v.Circles = append(v.Circles, circlePhones{Number: c.Number, Title: s.title()})
		}
		v.Circles[at].Phones = append(v.Circles[at].Phones, phone)
	}
	return nil
}

// phone serves the page of one phone: its screen, its texts and the seasons of its plots.
func (p page) phone(w http.ResponseWriter, r *http.Request) {
	phone, ok := p.find(w, r)
	if !ok {
		return
	}
	v, err := p.phoneView(r.Context(), phone)
	render(w, "phone.html", v, err)
}

func (p page) phoneView(ctx context.Context, phone Phone) (view, error) {
	v, err := p.view(ctx, phone.Number)
	if err != nil {
		return view{}, err
	}
	v.Phone, v.Screen, v.Note = phone, p.room.Screen(phone.Number), p.room.takeNote(phone.Number)
	if v.Entries, err = p.room.Notebook(ctx, phone.Number); err != nil {
		return view{}, err
	}
	slices.Reverse(v.Entries)
	if v.Unread, err = p.room.Unread(ctx, phone.Number); err != nil {
		return view{}, err
	}
	if v.Circle, err = p.room.drawCircle(ctx, phone.Number); err != nil {
		return view{}, err
	}
	plots, err := p.room.Plots(ctx, phone.Number)
	if err != nil {
		return view{}, err
	}
	for _, plot := range plots {
		today := p.room.today()
		s, err := summarize(plot, today)
		if err != nil {
			return view{}, err
		}
		var svg bytes.Buffer
		if err := picture.Season(&svg, plot.Season, today, picture.Options{WidthPX: 640}); err != nil {
			return view{}, err
		}
		// This HTML is safe, because the picture's own template has escaped all texts.
		v.Seasons = append(v.Seasons, drawnSeason{s, template.HTML(svg.String())})
	}
	return v, nil
}

// render writes the page. If the template fails, render writes only an error and no part of the page.
func render(w http.ResponseWriter, name string, v any, err error) {
	var b bytes.Buffer
	if err == nil {
		err = pageTemplates.ExecuteTemplate(&b, name, v)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b.Bytes()) // fails if the browser has closed the connection
}

// digits returns a phone number without its plus, as the paths have it.
func digits(number string) string { return strings.TrimPrefix(number, "+") }
