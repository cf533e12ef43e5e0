package desk

import (
	"net/http"
	"testing"
	"time"
)

// In practice anybody enters without a password, and the calendar may go on by months.
func TestPractice(t *testing.T) {
	o := newOffice(t)
	options := o.options()
	options.Practice = true
	o.d = must(New(options))
	b := o.browser()
	b.get("/desk/me").has(t, 200, "nobody needs a password", "field, field worker", "viewer, viewer")
	b.post("/desk/practice/enter", "name", "nobody").has(t, http.StatusNotFound, "Nobody has this name")
	b.forged("/desk/practice/enter", "name", "op").has(t, http.StatusForbidden, "another site")
	if len(b.cookies) > 0 {
		t.Error("a cookie for nobody")
	}
	b.post("/desk/practice/enter", "name", "field", "to", "/desk/me").has(t, 200, "You are field", "Practice phones")
	o.clock.Advance(200 * 24 * time.Hour)
	b.get("/desk/me").has(t, 200, "You are field")
	s := o.listen(o.browser(), "/desk/practice/events")
	if id, _ := s.next(); id == "" {
		t.Error("no event for the practice phones")
	}
}

// Outside of practice nobody enters without a password.
func TestNoPractice(t *testing.T) {
	o := newOffice(t)
	b := o.browser()
	b.post("/desk/practice/enter", "name", "op").has(t, http.StatusNotFound, "Nothing here")
	b.get("/desk/practice/events").has(t, http.StatusNotFound, "Nothing here")
	b.get("/desk/login").hasNot(t, "practice")
	if len(b.cookies) > 0 {
		t.Error("somebody was let in")
	}
	for _, rt := range o.d.routes {
		if rt.right == public && rt.pattern != "GET /desk/login" && rt.pattern != "POST /desk/login" &&
			rt.pattern != "GET /desk/join/{token}" && rt.pattern != "POST /desk/join/{token}" {
			t.Errorf("%s is open to everybody", rt.pattern)
		}
	}
}
