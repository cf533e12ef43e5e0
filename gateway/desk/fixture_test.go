package desk

import (
	"context"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
	"rowbell/store/testrun"
)

// office is the fixture of these tests: a desk over records with two places, and one account for each role. The
// accounts are named op, field and viewer; field and viewer have the place north only.
type office struct {
	t            testing.TB
	s            *store.Store
	d            *Desk
	clock        *clock.Manual
	north, south int64
	queued       int // how often the desk said that texts wait in the outbox
}

// testMenu is the menu with all languages.
var testMenu = sync.OnceValue(func() *menu.Menu { return must(menu.New(must(text.Default()), menu.Options{})) })

// nine is nine o'clock on the first day, when the staff come.
var nine = time.Date(2026, 6, 2, 9, 0, 0, 0, time.UTC)

// cheap is a cost of hashes with which tests are quick.
var cheap = argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

const goodPassword = "three green rows of rice"

func newOffice(t testing.TB) *office {
	t.Helper()
	path := testrun.Records(t, func(address string) error {
		s, err := store.Open(context.Background(), address, store.Options{})
		if err != nil {
			return err
		}
		return s.Close()
	})
	s := must(store.Open(context.Background(), path, store.Options{}))
	t.Cleanup(func() { s.Close() })
	o := &office{t: t, s: s, clock: clock.New(nine)}
	o.d = must(New(o.options()))
	o.tx(func(tx *store.Tx) (err error) {
		if o.north, err = tx.PutPlace(place("north")); err == nil {
			o.south, err = tx.PutPlace(place("south"))
		}
		return err
	})
	o.account("op", store.RoleOperator)
	o.account("field", store.RoleFieldWorker, o.north)
	o.account("viewer", store.RoleViewer, o.north)
	return o
}

// options returns the options of the desk, which tests may change before New.
func (o *office) options() Options {
	return Options{Store: o.s, Menu: testMenu(), Clock: o.clock, Log: zerolog.Nop(), HashCost: &cheap, QuietHour: 20,
		Queued: func() { o.queued++ }, Files: fileRules}
}

func place(name string) store.Place {
	return store.Place{Name: name, Zone: "UTC", Latitude: 15, MorningHour: 7, Normals: engine.Steady(20, 30).Normals}
}

// must returns v. It panics if there is an error, because the set-up of a test must not fail.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func (o *office) tx(f func(tx *store.Tx) error) {
	o.t.Helper()
	if err := o.s.InTx(context.Background(), f); err != nil {
		o.t.Fatal(err)
	}
}

// account makes an account with the password goodPassword.
func (o *office) account(name string, role store.Role, places ...int64) (id int64) {
	o.t.Helper()
	hash := must(o.d.hash(goodPassword))
	o.tx(func(tx *store.Tx) (err error) {
		if id, err = tx.AddStaff(store.Staff{Name: name, Role: role, Places: places}, nine.Unix()); err != nil {
			return err
		}
		return tx.SetPassword(id, hash)
	})
	return id
}

// browser is what somebody uses the desk with. It keeps cookies and follows redirects.
type browser struct {
	t       testing.TB
	h       http.Handler
	cookies map[string]*http.Cookie
	path    string // of the last page, after redirects
}

// page is an answer of the desk.
type page struct {
	Status int
	Body   string
	Header http.Header
}

func (o *office) browser() *browser {
	return &browser{t: o.t, h: o.d, cookies: map[string]*http.Cookie{}}
}

// as returns a browser in which somebody has logged in.
func (o *office) as(name string) *browser {
	o.t.Helper()
	b := o.browser()
	p := b.post("/desk/login", "name", name, "password", goodPassword)
	if len(b.cookies) != 1 {
		o.t.Fatalf("%s could not log in: %d %s", name, p.Status, p.text())
	}
	return b
}

func (b *browser) get(path string) page { return b.send(http.MethodGet, path, nil) }

// post sends a form: names and values in turn.
func (b *browser) post(path string, pairs ...string) page {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return b.send(http.MethodPost, path, strings.NewReader(v.Encode()))
}

func (b *browser) send(method, path string, body io.Reader) page {
	for range 5 {
		r := httptest.NewRequest(method, "http://localhost"+path, body)
		r.Header.Set("User-Agent", "a browser of the tests")
		if body != nil {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header.Set("Sec-Fetch-Site", "same-origin")
		}
		for _, c := range b.cookies {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		b.h.ServeHTTP(w, r)
		for _, c := range w.Result().Cookies() {
			if c.MaxAge < 0 {
				delete(b.cookies, c.Name)
			} else {
				b.cookies[c.Name] = c
			}
		}
		b.path = path
		to := w.Header().Get("Location")
		if w.Code != http.StatusSeeOther || to == "" {
			return page{w.Code, w.Body.String(), w.Header()}
		}
		method, path, body = http.MethodGet, to, nil
	}
	b.t.Fatalf("%s redirects for ever", path)
	return page{}
}

// text returns the words of a page without its tags.
func (p page) text() string {
	var b strings.Builder
	in := false
	for _, c := range p.Body {
		switch {
		case c == '<':
			in = true
		case c == '>':
			in = false
			b.WriteByte(' ')
		case !in:
			b.WriteRune(c)
		}
	}
	return html.UnescapeString(strings.Join(strings.Fields(b.String()), " "))
}

// has checks the status of a page and that it has all of these words.
func (p page) has(t testing.TB, status int, words ...string) {
	t.Helper()
	if p.Status != status {
		t.Errorf("status %d instead of %d: %s", p.Status, status, p.text())
	}
	for _, w := range words {
		if !strings.Contains(p.text(), w) {
			t.Errorf("%q is missing in: %s", w, p.text())
		}
	}
}

// hasNot checks that a page has none of these words.
func (p page) hasNot(t testing.TB, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(p.text(), w) {
			t.Errorf("%q stands in: %s", w, p.text())
		}
	}
}

// forged sends a form as a browser does for a page of another site.
func (b *browser) forged(path string, pairs ...string) page {
	h := b.h
	defer func() { b.h = h }()
	b.h = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		h.ServeHTTP(w, r)
	})
	return b.post(path, pairs...)
}
