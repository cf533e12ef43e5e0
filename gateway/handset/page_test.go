package handset

import (
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// visit sends a request and follows redirects, as a browser does.
func visit(t *testing.T, h http.Handler, method, path string, form url.Values) (int, string) {
	t.Helper()
	for range 3 {
		r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusSeeOther {
			return w.Code, w.Body.String()
		}
		method, path, form = http.MethodGet, w.Header().Get("Location"), nil
	}
	t.Fatal("redirected in a circle")
	return 0, ""
}

const phonePath, apiPath = "/practice/phone/447700900001", "/practice/api/phone/447700900001/"

func TestPage(t *testing.T) {
	room, _, _ := newTestRoom(t)
	h := Page(room, Desk{})
	steps := []struct {
		name, method, path string
		form               url.Values
		want               string // texts that the page must contain, separated by "|"
	}{
		{"the way in", "GET", "/practice", nil, "This is practice.|Nothing is sent|invented|Asha|Bento|1 new"},
		{"a phone", "GET", phonePath, nil, "This is practice.|Monday|June 2026|Asha|&lt;well&gt;|Weed now.|Welcome."},
		{"dial with nothing typed", "POST", apiPath + "call", nil, "You dialled *123#|Send"},
		{"answer", "POST", apiPath + "call", url.Values{"entry": {" 1 "}}, "You chose 1"},
		{"an error is told", "POST", apiPath + "call", url.Values{"entry": {"9"}}, "out of order|You chose 1"},
		{"the end", "POST", apiPath + "call", url.Values{"entry": {"0"}}, "Goodbye &lt;b&gt;|Call over|Dial"},
		{"hang up", "POST", apiPath + "hang", nil, "press the green key"},
		{"next day", "POST", apiPath + "next-day", nil, "Tuesday"},
		{"a day with a text", "POST", apiPath + "next-day", nil, "Wednesday|3 June: a text|1 new|&lt;i&gt;the plot"},
		{"next text", "POST", apiPath + "next-text", nil, "Saturday|3 days later: a text came.|2 new"},
		{"read", "POST", apiPath + "read", nil, "rowbell"},
		{"no text", "POST", apiPath + "sms", url.Values{"text": {" "}}, "Write a text first."},
		{"a text", "POST", apiPath + "sms", url.Values{"text": {"2 <u>"}}, "You wrote|2 &lt;u&gt;"},
		{"a new phone", "POST", "/practice/api/phone", nil, "+447700900101|New phone|no plot yet"},
		{"no text can come", "POST", "/practice/api/phone/447700900101/next-text", nil,
			"no plot, so no text comes|Saturday"},
		{"begin again", "POST", apiPath + "again", nil, "Monday|as they were on the first day|go back to 1 Jun"},
		{"from the list", "POST", "/practice/api/again", nil, "Pick up a phone|+447700900101|go back to 1 Jun"},
	}
	for _, s := range steps {
		code, body := visit(t, h, s.method, s.path, s.form)
		body = strings.ReplaceAll(body, "&#43;", "+")
		if code != http.StatusOK {
			t.Errorf("%s: %d %s", s.name, code, body)
		}
		for _, want := range strings.Split(s.want, "|") {
			if !strings.Contains(body, want) {
				t.Errorf("%s: no %q in\n%s", s.name, want, body)
			}
		}
		for _, raw := range []string{"<u>", "<i>the", "<well>", "Goodbye <b>"} {
			if strings.Contains(body, raw) {
				t.Errorf("%s: %q stands in the page unescaped", s.name, raw)
			}
		}
	}
}

func TestPageRefuses(t *testing.T) {
	room, _, s := newTestRoom(t)
	h := Page(room, Desk{})
	tests := []struct {
		name, method, path string
		header             map[string]string
		want               int
	}{
		{"a phone of nobody", "GET", "/practice/phone/447700900999", nil, 404},
		{"a phone by its place", "GET", "/practice/phone/1", nil, 404},
		{"a call to nobody", "POST", "/practice/api/phone/447700900999/call", nil, 404},
		{"changing by GET", "GET", apiPath + "call", nil, 405},
		{"another site", "POST", apiPath + "call", map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"another origin", "POST", apiPath + "next-day", map[string]string{"Origin": "http://elsewhere.invalid"}, 403},
		{"a template as it is", "GET", "/practice/phone.html", nil, 404},
		{"no such file", "GET", "/practice/nothing.css", nil, 404},
	}
	for _, tt := range tests {
		r := httptest.NewRequest(tt.method, tt.path, nil)
		for k, v := range tt.header {
			r.Header.Set(k, v)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != tt.want {
			t.Errorf("%s: %d, want %d", tt.name, w.Code, tt.want)
		}
	}
	if got := s.take("path"); len(got) != 0 {
		t.Errorf("the service was called: %q", got)
	}
}

// The pages load no file from another site, and their Content-Security-Policy forbids it.
func TestPageLoadsNothingFromOutside(t *testing.T) {
	room, _, _ := newTestRoom(t)
	h := Page(room, Desk{})
	outside := regexp.MustCompile(`(?i)(https?:)?//[a-z0-9]`)
	inline := regexp.MustCompile(`(?i)<style|\sstyle=|<script(\s[^>]*)?>[^<]|\son[a-z]+=|javascript:`)
	files, err := fs.Glob(pageFiles, "page/*.*")
	if err != nil || len(files) < 6 {
		t.Fatalf("page files %v, %v", files, err)
	}
	paths := []string{"/practice/", phonePath}
	for _, f := range files {
		if !strings.HasSuffix(f, ".html") {
			paths = append(paths, "/practice/"+strings.TrimPrefix(f, "page/"))
		}
	}
	for _, path := range paths {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		if w.Code != 200 {
			t.Errorf("%s: %d", path, w.Code)
		}
		body := strings.ReplaceAll(w.Body.String(), `xmlns="http://www.w3.org/2000/svg"`, "")
		if bad := outside.FindString(body); bad != "" && !strings.HasSuffix(path, ".js") {
			t.Errorf("%s points outside: %q", path, bad)
		}
		if bad := inline.FindString(body); bad != "" && !strings.Contains(path, ".") {
			t.Errorf("%s needs a weaker policy: %q", path, bad)
		}
		csp := w.Header().Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s has the policy %q", path, csp)
		}
	}
}
