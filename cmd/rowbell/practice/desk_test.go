package practice

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"

	"rowbell/store"
)

// visitor is somebody at the desk of a practice session.
type visitor struct {
	t   *testing.T
	url string
	http.Client
}

// enter opens the desk as the page of the phones does.
func enter(t *testing.T, r *room, name string) *visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	ok(t, err)
	v := &visitor{t: t, url: r.url}
	v.Jar = secureJar{jar}
	answer, err := v.PostForm(r.url+"/desk/practice/enter", url.Values{"name": {name}})
	ok(t, err)
	_ = answer.Body.Close()
	return v
}

// secureJar sends Secure cookies to this machine also without TLS, as browsers do.
type secureJar struct{ *cookiejar.Jar }

func (j secureJar) Cookies(u *url.URL) []*http.Cookie {
	over := *u
	over.Scheme = "https"
	return j.Jar.Cookies(&over)
}

func (v *visitor) get(path string) string {
	v.t.Helper()
	answer, err := v.Get(v.url + path)
	ok(v.t, err)
	defer answer.Body.Close()
	b, err := io.ReadAll(answer.Body)
	ok(v.t, err)
	return string(b)
}

// A person enters the desk as the field worker, without a password, and stays there while the calendar goes on and when
// practice begins again.
func TestDeskOfPractice(t *testing.T) {
	r := openTest(t)
	answer, err := http.Get(r.url + "/practice/")
	ok(t, err)
	page, err := io.ReadAll(answer.Body)
	ok(t, err)
	_ = answer.Body.Close()
	if !strings.Contains(string(page), `action="/desk/practice/enter"`) ||
		!strings.Contains(string(page), `value="`+fieldWorker+`"`) {
		t.Errorf("the practice page has no way to the desk:\n%s", page)
	}
	v := enter(t, r, fieldWorker)
	at := func(when string) {
		t.Helper()
		if page := v.get("/desk/me"); !strings.Contains(page, "You are <b>"+fieldWorker+"</b>, field worker") ||
			!strings.Contains(page, `href="/practice/"`) {
			t.Errorf("%s the desk shows\n%s", when, page)
		}
	}
	at("at first")
	for range 3 {
		ok(t, r.NextDay(t.Context()))
	}
	at("after three days")
	ok(t, r.BeginAgain(t.Context()))
	at("after a new beginning")
	for _, name := range []string{operator, viewer} {
		if page := enter(t, r, name).get("/desk/me"); !strings.Contains(page, "You are <b>"+name) {
			t.Errorf("%s cannot enter:\n%s", name, page)
		}
	}
}

// The accounts are there once, also in a later session on the same records.
func TestStaffOfPractice(t *testing.T) {
	r := openTest(t)
	for range 2 {
		ok(t, r.service.Store().View(t.Context(), func(tx *store.Tx) error {
			list, err := tx.StaffList()
			if len(list) != 3 {
				t.Errorf("%d accounts", len(list))
			}
			for _, s := range list {
				if s.Password != "" || s.Role != store.RoleOperator && len(s.Places) != 1 {
					t.Errorf("%+v", s)
				}
			}
			return err
		}))
		ok(t, r.addStaff(t.Context()))
	}
}
