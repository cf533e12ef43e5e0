package desk_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rowbell/gateway/browser"
)

// After wrong passwords in a row the next may be tried only after a wait, which doubles each time, even if it is right.
// The right one after the wait ends this. OWASP Authentication Cheat Sheet, "Account Lockout" (from memory): the delay
// grows, and the account is not locked for good, so that nobody can lock another person out.
func TestLockoutInABrowser(t *testing.T) {
	v := openValley(t)
	w := v.openWindow("")
	try := func(password string) string {
		t.Helper()
		w.logIn("worker", password)
		return w.Text("body")
	}
	for range 3 {
		if said := try("not this one"); !strings.Contains(said, "do not belong together") {
			t.Fatalf("a wrong password is answered with %s", said)
		}
	}
	w.Shot("wrong-password")
	for i, wait := range []string{"5 seconds", "10 seconds", "20 seconds", "40 seconds", "2 minutes"} {
		if said := try(password); !strings.Contains(said, "Wait "+wait+",") {
			t.Errorf("after %d wrong passwords the page does not ask to wait %s: %s", 3+i, wait, said)
		}
		v.clock.Advance(waits[i])
		if said := try("not this one"); !strings.Contains(said, "do not belong together") {
			t.Errorf("after the wait of %s: %s", wait, said)
		}
	}
	v.clock.Advance(15 * time.Minute)
	try(password)
	w.Says(".self", "worker")
	v.as("worker") // no wait is left
}

// waits are the delays of TestLockoutInABrowser.
var waits = []time.Duration{5 * time.Second, 10 * time.Second, 20 * time.Second, 40 * time.Second, 80 * time.Second}

// Two browsers are logged in. In one of them the other's session is ended, which then has to log in again, and comes
// back to the page that it asked for. What it posts meanwhile changes nothing.
func TestSessionEndedElsewhere(t *testing.T) {
	v := openValley(t)
	here, there := v.openWindow("worker"), v.openWindow("worker")
	here.Show(v.url+"/desk/me", 360, 740, "main")
	if n := browser.Value[int](here.Window, `document.querySelectorAll("main .lines li").length`); n != 2 {
		t.Errorf("%d sessions are listed, want 2", n)
	}
	here.Shot("sessions")
	here.Press(`form[action="/desk/me/sessions"] button`)
	here.Says(".note", "All other sessions were ended")
	there.Show(v.url+"/desk/trail", 360, 740, "#f-name")
	there.sendLogIn("worker", password)
	if path := browser.Value[string](there.Window, `location.pathname`); path != "/desk/trail" {
		t.Errorf("after the log-in the browser is at %s", path)
	}
	here.Show(v.url+"/desk/me", 360, 740, "main")
	here.Says(".self", "worker")
}

// The password is changed in one browser; the session of the other has ended then, and only the new password logs in.
func TestPasswordChangedInABrowser(t *testing.T) {
	v := openValley(t)
	here, there := v.openWindow("viewer"), v.as("viewer")
	here.Show(v.url+"/desk/me", 360, 740, "main")
	set := func(to string) {
		here.Type("#f-old", password)
		here.Type("#f-password", to)
		here.Follow("change", chromedp.SendKeys(chromedp.CSS("#f-again"), to+browser.Enter))
	}
	set("short")
	here.Says("#m-password", "at least 12")
	const fresh = "four leaves and still water"
	set(fresh)
	here.Says(".note", "Your password was changed")
	if got := there.get("/desk/me"); !strings.HasPrefix(got.location, "/desk/login") {
		t.Errorf("the other session still works: status %d", got.status)
	}
	c := v.as("")
	if got := c.post("/desk/login", "name", "viewer", "password", password); got.status != 422 {
		t.Errorf("the old password: status %d", got.status)
	}
	if got := c.post("/desk/login", "name", "viewer", "password", fresh); got.status != 303 {
		t.Errorf("the new password: status %d", got.status)
	}
}

// Guesses that come at once wait as those in a row do: of many, only so many are checked as may be tried without a
// wait, for a name that is an account's and for one that is not.
func TestGuessesAtOnce(t *testing.T) {
	const guesses, withoutWait = 24, 3
	v := openValley(t)
	for _, name := range []string{"worker", "nobody of this name"} {
		status := make(chan int)
		for range guesses {
			go func() {
				got, err := http.PostForm(v.url+"/desk/login", form("name", name, "password", "not this one"))
				if err != nil {
					t.Error(err)
					status <- 0
					return
				}
				got.Body.Close()
				status <- got.StatusCode
			}()
		}
		answers := map[int]int{}
		for range guesses {
			answers[<-status]++
		}
		if answers[http.StatusUnprocessableEntity] != withoutWait ||
			answers[http.StatusTooManyRequests] != guesses-withoutWait {
			t.Errorf("%s: %d guesses are answered with %v (by status), want %d with 422 and the others with 429", name,
				guesses, answers, withoutWait)
		}
	}
}
