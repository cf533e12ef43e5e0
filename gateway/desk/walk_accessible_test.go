package desk_test

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"

	"rowbell/gateway/browser"
	"rowbell/gateway/desk"
	"rowbell/store"
)

// window is a window of the browser on the desk of a valley.
type window struct {
	*browser.Window
	v *valley
}

// openWindow opens a window in which an account is logged in; "" = none.
func (v *valley) openWindow(account string) window {
	v.t.Helper()
	w := window{browser.Open(v.t), v}
	if account != "" {
		w.logIn(account, password)
		w.Says(".self", account)
	}
	return w
}

// logIn fills in the form and sends it. It returns the status of the answer.
func (w window) logIn(name, password string) (status int) {
	w.v.t.Helper()
	w.Show(w.v.url+"/desk/login", 360, 740, "#f-name")
	return w.sendLogIn(name, password)
}

// sendLogIn is logIn on a page that has the form already.
func (w window) sendLogIn(name, password string) (status int) {
	w.v.t.Helper()
	w.Set("#f-name", name)
	return w.Follow("log in", chromedp.SendKeys(chromedp.CSS("#f-password"), password+browser.Enter))
}

// Every page of the table of routes keeps the rules of accessibility, for the operator, who sees most of it. Pages for
// people who are not logged in are opened without an account. Two windows share the work.
func TestPagesAreAccessible(t *testing.T) {
	const windows = 2
	browser.NeedsRules(t)
	v := openValley(t)
	paths := v.paths(store.DefaultPlace)
	var checked atomic.Int32
	t.Run("windows", func(t *testing.T) {
		for n := range windows {
			t.Run(strconv.Itoa(n), func(t *testing.T) {
				t.Parallel()
				v := *v
				v.t = t
				inside, outside, c := v.openWindow("operator"), v.openWindow(""), v.as("operator")
				for i, route := range desk.Routes() {
					if i%windows != n || !strings.HasPrefix(route, "GET ") {
						continue
					}
					w, c := inside, c
					if strings.Contains(route, "/desk/login") || strings.Contains(route, "/desk/join") {
						w, c = outside, v.as("")
					}
					pattern := strings.TrimPrefix(route, "GET ")
					if w.isAccessible(c, pattern, paths.Replace(pattern)) {
						checked.Add(1)
					}
				}
			})
		}
	})
	if n := checked.Load(); n < 8 {
		t.Errorf("only %d pages were looked at", n)
	}
}

// isAccessible checks a page and takes its pictures. It returns false for what is no page: a file, a stream of events,
// or what walk_access_test.go looks at.
func (w window) isAccessible(c *client, pattern, path string) bool {
	w.v.t.Helper()
	got := c.get(path)
	if got.status != http.StatusOK || !strings.HasPrefix(got.kind, "text/html") {
		return false
	}
	w.Show(w.v.url+path, 360, 740, "main")
	name := strings.Trim(strings.NewReplacer("/", "-", "{", "", "}", "", "$", "first").Replace(pattern), "-")
	w.Shot(name + "-phone")
	w.Audit(pattern)
	w.Resize(1280, 800)
	w.Shot(name + "-laptop")
	return true
}

// What the desk answers to an empty form also keeps the rules: the form again with its mistakes, or why it was refused.
func TestMistakesAreAccessible(t *testing.T) {
	browser.NeedsRules(t)
	v := openValley(t)
	w, c := v.openWindow("operator"), v.as("operator")
	shown := 0
	for _, route := range desk.Routes() {
		method, pattern, _ := strings.Cut(route, " ")
		path := v.paths(store.DefaultPlace).Replace(pattern)
		if method != "POST" || c.post(path).status != http.StatusUnprocessableEntity {
			continue
		}
		w.Follow("an empty form to "+pattern, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`{
			const form = document.createElement("form");
			form.method = "post";
			form.action = %q;
			document.body.append(form);
			form.submit();
		}`, path)))
		for _, view := range browser.Views[:1] {
			for _, found := range w.Violations(view) {
				t.Errorf("an empty form to %s (%s): %s", pattern, view.Name, found)
			}
		}
		shown++
	}
	if shown < 2 {
		t.Errorf("only %d forms were refused", shown)
	}
}
