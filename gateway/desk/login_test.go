package desk

import (
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"rowbell/store"
)

func TestLogIn(t *testing.T) {
	o := newOffice(t)
	b := o.browser()
	b.get("/desk/staff").has(t, 200, "Log in", "Password")
	b.post("/desk/login", "name", "op", "password", "wrong", "to", "/desk/staff").
		has(t, http.StatusUnprocessableEntity, "do not belong together")
	if len(b.cookies) > 0 {
		t.Error("a wrong password was given a cookie")
	}
	b.post("/desk/login", "name", "op", "password", goodPassword, "to", "/desk/staff").has(t, 200, "Add somebody")
	c := b.cookies["__Host-rowbell-desk"]
	if c == nil || !c.Secure || !c.HttpOnly || c.Path != "/" || c.Domain != "" ||
		c.SameSite != http.SameSiteLaxMode {
		t.Errorf("the cookie is %+v", c)
	}
	b.post("/desk/logout").has(t, 200, "Log in")
	b.cookies[c.Name] = c // somebody has kept the cookie
	b.get("/desk/staff").has(t, 200, "Log in")
}

func TestALinkLeadsToNoOtherSite(t *testing.T) {
	o := newOffice(t)
	for _, to := range []string{"https://example.org/desk/", "//example.org/desk/", "/\\example.org", "/elsewhere",
		"x"} {
		b := o.browser()
		b.post("/desk/login", "name", "op", "password", goodPassword, "to", to)
		if !strings.HasPrefix(b.path, "/desk/") {
			t.Errorf("%q led to %q", to, b.path)
		}
	}
}

// After wrong passwords the wait grows, also for names that do not exist, and a right password ends it.
func TestWrongPasswordsWait(t *testing.T) {
	o := newOffice(t)
	b := o.browser()
	for _, name := range []string{"op", "nobody"} {
		try := func(password string) int {
			return b.post("/desk/login", "name", name, "password", password).Status
		}
		for wrong := 1; wrong <= 12; wrong++ {
			if got := try("wrong"); got != http.StatusUnprocessableEntity {
				t.Fatalf("%s, wrong password %d: %d", name, wrong, got)
			}
			wait := waitAfter(wrong)
			if wait == 0 {
				continue
			}
			o.clock.Advance(wait - time.Second)
			if got := try(goodPassword); got != http.StatusTooManyRequests {
				t.Errorf("%s, after %d wrong ones and a second too early: %d", name, wrong, got)
			}
			o.clock.Advance(time.Second)
		}
	}
	if waitAfter(2) != 0 || waitAfter(3) != 5*time.Second || waitAfter(5) != 20*time.Second ||
		waitAfter(12) != 15*time.Minute || waitAfter(1000) != 15*time.Minute {
		t.Error("the waits are not as they are documented")
	}
	if s := o.as("op"); s == nil {
		t.Error("no log-in")
	}
	o.tx(func(tx *store.Tx) error {
		s, _, err := tx.StaffByName("op")
		if s.Wrong != 0 || s.LockedUntil != 0 {
			t.Errorf("after the right password: %+v", s)
		}
		return err
	})
}

func TestSessionsEnd(t *testing.T) {
	o := newOffice(t)
	b := o.as("op")
	for range 5 {
		o.clock.Advance(time.Hour + 59*time.Minute)
		b.get("/desk/staff").has(t, 200, "Add somebody")
	}
	o.clock.Advance(2*time.Hour + time.Second)
	b.get("/desk/staff").has(t, 200, "Password") // unused for too long
	b = o.as("op")
	for range 6 {
		o.clock.Advance(time.Hour + 59*time.Minute)
		b.get("/desk/staff")
	}
	o.clock.Advance(6 * time.Minute)
	b.get("/desk/staff").has(t, 200, "Password") // in use, but too old

	a, c := o.as("field"), o.as("field")
	a.get("/desk/me").has(t, 200, "This browser", "a browser of the tests")
	a.post("/desk/me/sessions").has(t, 200, "All other sessions were ended")
	c.get("/desk/me").has(t, 200, "Log in")
	a.post("/desk/me/password", "old", goodPassword, "password", "short", "again", "short").
		has(t, http.StatusUnprocessableEntity, "This has 5 characters")
	a.post("/desk/me/password", "old", "wrong", "password", "another good one", "again", "another good one").
		has(t, http.StatusUnprocessableEntity, "not your present password")
	d := o.as("field")
	a.post("/desk/me/password", "old", goodPassword, "password", "another good one", "again", "another good one").
		has(t, 200, "Your password was changed")
	d.get("/desk/me").has(t, 200, "Log in")
	a.get("/desk/me").has(t, 200, "This browser")
}

func TestJoin(t *testing.T) {
	o := newOffice(t)
	op := o.as("op")
	op.post("/desk/staff", "name", "op", "role", "operator").has(t, 422, "This name is taken")
	op.post("/desk/staff", "name", "lina", "role", "field worker").has(t, 422, "Choose at least one place")
	link := func(p page) string {
		_, rest, _ := strings.Cut(p.Body, `href="http://localhost`)
		link, _, _ := strings.Cut(rest, `"`)
		return link
	}
	to := link(op.post("/desk/staff", "name", "lina", "role", "field worker", "place", "north"))
	b := o.browser()
	b.get(to).has(t, 200, "You will log in as lina")
	b.post(to, "password", "lina has a long one", "again", "lina has a long one").has(t, 422, "the name in it")
	b.post(to, "password", goodPassword, "again", "something else").has(t, 422, "not the same as above")
	b.post(to, "password", goodPassword, "again", goodPassword).has(t, 200, "Welcome, lina")
	o.browser().get(to).has(t, 404, "This link is over")
	op.get("/desk/trail").has(t, 200, "added an account", "account lina", "set a password")

	o.clock.Advance(time.Hour)
	op = o.as("op")
	accounts := op.get("/desk/staff").Body
	_, id, _ := strings.Cut(accounts[:strings.Index(accounts, ">lina<")], `href="/desk/staff/`)
	for strings.Contains(id, `href="/desk/staff/`) {
		_, id, _ = strings.Cut(id, `href="/desk/staff/`)
	}
	id = strings.TrimRight(id, `"`)
	again := link(op.post("/desk/staff/" + id + "/link"))
	o.clock.Advance(48 * time.Hour)
	o.browser().get(again).has(t, 404, "This link is over")
	op = o.as("op")
	op.post("/desk/staff/"+id+"/end", "name", "other").has(t, 422, "Type the name")
	op.post("/desk/staff/"+id+"/end", "name", "lina").has(t, 200, "was ended")
	b.get("/desk/me").has(t, 200, "Log in")
}

// What another site makes a browser send changes nothing.
func TestOtherSites(t *testing.T) {
	o := newOffice(t)
	b := o.as("op")
	p := b.forged("/desk/staff", "name", "evil", "role", "operator")
	p.has(t, http.StatusForbidden, "another site")
	b.get("/desk/staff").hasNot(t, "evil")
	h := b.get("/desk/staff").Header
	for name, want := range map[string]string{"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff",
		"X-Frame-Options": "DENY", "Cache-Control": "no-store", "Referrer-Policy": "same-origin"} {
		if !strings.Contains(h.Get(name), want) {
			t.Errorf("%s: %q", name, h.Get(name))
		}
	}
	if strings.Contains(policy, "unsafe") {
		t.Error("the policy allows inline scripts or styles")
	}
}

// With new settings a wait after wrong passwords goes on, also that of a name that no account has.
func TestNewSettingsEndNoWait(t *testing.T) {
	o := newOffice(t)
	for _, name := range []string{"op", "nobody"} {
		for range 3 {
			o.browser().post("/desk/login", "name", name, "password", "wrong")
		}
	}
	next := must(New(o.options()))
	next.Continue(o.d)
	o.d = next
	for _, name := range []string{"op", "nobody"} {
		o.browser().post("/desk/login", "name", name, "password", goodPassword).
			has(t, http.StatusTooManyRequests, "Wait 5 seconds")
	}
}

// A link that an operator gives to somebody leads to the address of the configuration.
func TestLinksHaveTheConfiguredAddress(t *testing.T) {
	o := newOffice(t)
	with := o.options()
	with.Address = "https://bell.example.org"
	o.d = must(New(with))
	o.as("op").post("/desk/staff", "name", "lina", "role", "operator").
		has(t, http.StatusOK, "https://bell.example.org/desk/join/")
}

// A limit for long bodies that names no route would limit nothing.
func TestLongBodiesAreOfRoutes(t *testing.T) {
	o := newOffice(t)
	patterns := map[string]bool{}
	for _, rt := range o.d.routes {
		patterns[rt.pattern] = true
	}
	for pattern := range maxBody {
		if !patterns[pattern] {
			t.Errorf("%s is no route", pattern)
		}
	}
}

// A desk is made anew for each new configuration, so one that is dropped must leave no goroutine behind.
func TestADroppedDeskLeavesNothingRunning(t *testing.T) {
	o := newOffice(t)
	before := runtime.NumGoroutine()
	for range 20 {
		must(New(o.options()))
	}
	if after := runtime.NumGoroutine(); after >= before+20 {
		t.Errorf("%d goroutines before, %d after", before, after)
	}
}

// A name that nobody has costs the same hash as one with a password, and lets nobody in.
func TestHashOfNobody(t *testing.T) {
	hash := hashOfNobody(&PasswordCost)
	if cost, _, _, err := argon2id.DecodeHash(hash); err != nil || *cost != PasswordCost {
		t.Fatalf("%+v %v", cost, err)
	}
	for _, password := range []string{"", "0", hash} {
		if same, err := argon2id.ComparePasswordAndHash(password, hash); same || err != nil {
			t.Errorf("%q: %v %v", password, same, err)
		}
	}
}
