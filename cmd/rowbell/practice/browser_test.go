package practice

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"rowbell/gateway/browser"
)

// window is a window of the browser on the practice page.
type window struct {
	*browser.Window
	t *testing.T
}

func TestMain(m *testing.M) { os.Exit(browser.Main(m)) }

func openBrowser(t *testing.T) window {
	t.Helper()
	return window{browser.Open(t), t}
}

// keypad clicks these keys of the handset on the page.
func (b window) keypad(keys string) {
	b.t.Helper()
	for _, key := range keys {
		b.Click(fmt.Sprintf(`#paddy [data-key="%c"]`, key))
	}
}

// choice returns the digit of the choice with this label on the screen.
func (b window) choice(label string) string {
	b.t.Helper()
	screen := b.Text("#screen")
	m := regexp.MustCompile(`(?m)^(\d) ` + regexp.QuoteMeta(label) + `\s*$`).FindStringSubmatch(screen)
	if m == nil {
		b.t.Fatalf("no choice %q on the screen:\n%s", label, screen)
	}
	return m[1]
}

// answer enters an answer with the function how and waits for another screen. The key end sends the answer; if end is
// "", answer clicks the button that sends it.
func (b window) answer(how func(string), entry, end string) {
	b.t.Helper()
	before := b.Text("#screen")
	how(entry)
	if end != "" {
		b.Keys(end)
	} else {
		b.Click("#go")
	}
	b.WaitForOther("the screen after "+entry, "#screen", before)
}

// A person with a new phone registers a plot, reads that it is time to weed, and answers that the plot was weeded. The
// picture of the season then shows this pass.
func TestPracticeInABrowser(t *testing.T) {
	r := openTest(t)
	b := openBrowser(t) // closes before the service, which its pages follow
	b.Show(r.url+"/", 1280, 860, "#new-phone")
	if said := b.Text("main"); !strings.Contains(said, "Nothing is sent") || !strings.Contains(said, "invented") {
		t.Errorf("the page does not say that it is practice: %s", said)
	}
	b.Shot("shelf")
	b.Click("#new-phone")
	b.Do("pick up a new phone", chromedp.WaitVisible(chromedp.CSS("#paddy")))
	b.register()
	b.untilWeedNow()
	b.Do("answer 1", chromedp.SendKeys(chromedp.CSS("#text"), "1"+browser.Enter))
	b.Wait("the answer to it", `document.querySelectorAll("#entries li.mine").length === 1 &&
		document.querySelector("#entries li").textContent.includes("logged")`)
	b.Wait("the pass in the picture", `document.querySelector("#seasons").textContent.includes("Just weeded")`)
	b.Click("#read")
	b.Wait("nothing unread", `document.querySelector(".notebook .unread, .fresh") === null`)
	b.Shot("weeded")
	b.moveCalendar()
	b.dialAfterTheCalendar()
	b.beginAgain()
}

// register registers a plot with the keypad on the page and the keyboard in turn.
func (b window) register() {
	b.answer(b.keypad, "*123#", "")
	b.Shot("language")
	b.answer(b.Keys, b.choice("English"), browser.Enter)
	b.Shot("welcome")
	b.answer(b.Keys, b.choice("yes"), browser.Enter)
	b.answer(b.keypad, b.choice("new plot"), browser.Enter)
	b.answer(b.Keys, b.choice("seedlings in lines"), browser.Enter)
	b.answer(b.Keys, b.choice("today"), browser.Enter)
	b.answer(b.keypad, b.choice("always"), "")
	b.answer(b.Keys, b.choice("25 x 25 cm"), browser.Enter)
	b.answer(b.Keys, "9\b15", browser.Enter) // backspace removes the 9, so 15 is sent
	b.answer(b.Keys, "600", browser.Enter)
	b.Shot("registered")
	if screen := b.Text("#screen"); !strings.Contains(screen, "600 m2") {
		b.t.Errorf("the plot is not saved with its area:\n%s", screen)
	}
	b.Keys(browser.Escape)
	b.Wait("hung up", `document.querySelector(".screen-idle") !== null`)
	b.Wait("the season is drawn", `document.querySelectorAll("#seasons svg").length === 1`)
}

// untilWeedNow moves the calendar from text to text, until a text says "weed now".
func (b window) untilWeedNow() {
	for range 6 {
		before := b.Text("#date")
		b.Click("#next-text")
		b.WaitForOther("another day", "#date", before)
		b.Wait("the page is ready", `document.body.getAttribute("aria-busy") === null`)
		if strings.Contains(b.Text("#entries li:first-child"), "weed now") {
			break
		}
	}
	if newest := b.Text("#entries li:first-child"); !strings.Contains(newest, "weed now") ||
		!strings.Contains(newest, "new") {
		b.t.Fatalf("the newest text is not the window's opening: %s", newest)
	}
	b.Shot("open")
}

// moveCalendar moves the calendar one day with the keyboard, then starts and stops the automatic calendar.
func (b window) moveCalendar() {
	before := b.Text("#date")
	b.Do("focus", chromedp.Focus(chromedp.CSS("#next-day")))
	b.Keys(browser.Enter)
	b.WaitForOther("the next day", "#date", before)
	b.Click("#play")
	b.Wait("days go by", `document.querySelector("#play").getAttribute("aria-pressed") === "true"`)
	b.WaitForOther("another day", "#date", b.Text("#date"))
	b.Click("#play")
	b.Wait("stopped", `document.querySelector("#play").getAttribute("aria-pressed") === "false"`)
}

// dialAfterTheCalendar dials while a button of the calendar has the focus. Enter dials and does not move the calendar.
func (b window) dialAfterTheCalendar() {
	date := b.Text("#date")
	for _, how := range []func(string){b.keypad, b.Keys} {
		b.Do("focus", chromedp.Focus(chromedp.CSS("#next-day")))
		b.answer(how, "*123#", browser.Enter)
		b.Keys(browser.Escape)
		b.Wait("hung up", `document.querySelector(".screen-idle") !== null`)
	}
	if now := b.Text("#date"); now != date {
		b.t.Errorf("Enter moved the calendar from %s to %s", date, now)
	}
}

// beginAgain sets all phones back to the first day, on which the new phone had no plot.
func (b window) beginAgain() {
	b.Click("#again summary")
	b.Click("#begin-again")
	b.Wait("the first day", `document.querySelector("#date .date-day").textContent === "1"`)
	b.Wait("nothing of what was done", `document.querySelector(".season-none") &&
		document.querySelector(".entry-none") && !document.querySelector("#again").open &&
		document.querySelector("#about").textContent === "No plot yet."`)
}

// The first page links to the comparison of seasons with and without reminders. There a user can choose other growers
// and another year.
func TestWorthInABrowser(t *testing.T) {
	r := openTest(t)
	b := openBrowser(t) // closes before the service, which its pages follow
	b.Show(r.url+"/practice/", 1280, 860, "#new-phone")
	b.Click(`a[href="/practice/worth"]`)
	b.Do("the usual growers", chromedp.WaitVisible(chromedp.CSS("#played-usual-normal")))
	b.Do("choose", chromedp.SetValue(chromedp.CSS("select[name=growers]"), "honest"),
		chromedp.SetValue(chromedp.CSS("select[name=year]"), "dry"))
	b.Click("#compare")
	b.Do("honest growers in a dry year", chromedp.WaitVisible(chromedp.CSS("#played-honest-dry")))
	if bars := b.Text("#bars"); !strings.Contains(bars, "% by habit") || !strings.Contains(bars, "% with the bell") {
		t.Errorf("the picture says %s", bars)
	}
	b.Shot("worth")
}
