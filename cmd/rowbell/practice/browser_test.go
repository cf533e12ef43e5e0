package practice

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"rowbell/engine"
)

// browser is a headless browser on the practice page.
type browser struct {
	t     *testing.T
	ctx   context.Context
	shots string // folder for screenshots of the page; "" = no screenshots

	mu         sync.Mutex
	complaints []string // errors and warnings that the browser logged about the page
}

// startBrowser starts the browser that all tests share. The context is nil if no browser is installed.
var startBrowser = sync.OnceValues(func() (context.Context, error) {
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"} {
		if p, err := exec.LookPath(name); err == nil && path == "" {
			path = p
		}
	}
	if path == "" {
		return nil, nil
	}
	dir, err := os.MkdirTemp("", "rowbell-browser-")
	if err != nil {
		return nil, err
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(path),
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.UserDataDir(dir), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-dev-shm-usage", true))
	ctx, end := chromedp.NewContext(ctx)
	stopBrowser = func() {
		end()
		stop()
		os.RemoveAll(dir)
	}
	return ctx, chromedp.Do(ctx)
})

var stopBrowser = func() {}

func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	stopBrowser()
	os.Exit(code)
}

// openBrowser opens a window of the browser, with no cookies or pages of another test. Without an installed browser the
// test is skipped, or fails in CI. The test also fails if the browser logs an error or a warning.
func openBrowser(t *testing.T) *browser {
	t.Helper()
	shared, err := startBrowser()
	ok(t, err)
	if shared == nil {
		if os.Getenv("CI") != "" {
			t.Fatal("no browser found, and CI is set: install chromium")
		}
		t.Skip("no browser found: install chromium to run this test")
	}
	b := &browser{t: t, shots: os.Getenv("ROWBELL_SHOTS")}
	if *update && b.shots == "" {
		b.shots = t.TempDir()
	}
	ctx, closeWindow := chromedp.NewContext(shared, chromedp.WithNewBrowserContext())
	t.Cleanup(closeWindow)
	ok(t, chromedp.Do(ctx))
	b.ctx, closeWindow = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(closeWindow)
	err = chromedp.Listen(b.ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch ev := ev.(type) {
		case *log.EventEntryAdded:
			b.complaints = append(b.complaints, ev.Entry.Text)
		case *runtime.EventExceptionThrown:
			b.complaints = append(b.complaints, ev.ExceptionDetails.Text)
		}
	})
	ok(t, err)
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, c := range b.complaints {
			t.Errorf("the browser complains: %s", c)
		}
	})
	return b
}

// open opens a page in a window of this size and waits for the element visible.
func (b *browser) open(url string, width, height int64, visible string) {
	b.t.Helper()
	b.do("open "+url, chromedp.EmulateViewport(width, height), chromedp.Navigate(url),
		chromedp.WaitVisible(chromedp.CSS(visible)))
}

// waitForOther waits until the text of the element sel differs from before.
func (b *browser) waitForOther(what, sel, before string) {
	b.t.Helper()
	b.wait(what, fmt.Sprintf(`document.querySelector(%q).textContent !== %q`, sel, before))
}

func (b *browser) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.shot("failed")
		b.t.Fatalf("%s: %v (ROWBELL_SHOTS names a folder for pictures of the page)", what, err)
	}
}

// wait waits until the JavaScript expression is true.
func (b *browser) wait(what, expression string) {
	b.t.Helper()
	b.do(what, func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(20*time.Second))(ctx, t)
		return chromedp.Void{}, err
	})
}

func (b *browser) text(sel string) string {
	b.t.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.TextContent(chromedp.CSS(sel)))
	if err != nil {
		b.t.Fatalf("%s: %v", sel, err)
	}
	return s
}

func (b *browser) click(sel string) { b.do("click "+sel, chromedp.Click(chromedp.CSS(sel))) }

func (b *browser) keys(keys string) { b.do("keys", chromedp.KeyEvent(keys)) }

// keypad clicks these keys of the handset on the page.
func (b *browser) keypad(keys string) {
	b.t.Helper()
	for _, key := range keys {
		b.click(fmt.Sprintf(`#paddy [data-key="%c"]`, key))
	}
}

// choice returns the digit of the choice with this label on the screen.
func (b *browser) choice(label string) string {
	b.t.Helper()
	screen := b.text("#screen")
	m := regexp.MustCompile(`(?m)^(\d) ` + regexp.QuoteMeta(label) + `\s*$`).FindStringSubmatch(screen)
	if m == nil {
		b.t.Fatalf("no choice %q on the screen:\n%s", label, screen)
	}
	return m[1]
}

// answer enters an answer with the function how and waits for another screen. The key end sends the answer; if end is
// "", answer clicks the button that sends it.
func (b *browser) answer(how func(string), entry, end string) {
	b.t.Helper()
	before := b.text("#screen")
	how(entry)
	if end != "" {
		b.keys(end)
	} else {
		b.click("#go")
	}
	b.waitForOther("the screen after "+entry, "#screen", before)
}

// shot writes a screenshot of the page into the folder b.shots, if that folder is set.
func (b *browser) shot(name string) {
	b.t.Helper()
	if b.shots == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(b.shots, name+".png"), png, 0o644)
	}
	if err != nil {
		b.t.Logf("no picture of %s: %v", name, err)
	}
}

const (
	enter  = "\r"
	escape = "\x1b"
)

// A person with a new phone registers a plot, reads that it is time to weed, and answers that the plot was weeded. The
// picture of the season then shows this pass.
func TestPracticeInABrowser(t *testing.T) {
	b := openBrowser(t)
	r := openTest(t)
	b.open(r.url+"/", 1280, 860, "#new-phone")
	if said := b.text("main"); !strings.Contains(said, "Nothing is sent") || !strings.Contains(said, "invented") {
		t.Errorf("the page does not say that it is practice: %s", said)
	}
	b.shot("shelf")
	b.click("#new-phone")
	b.do("pick up a new phone", chromedp.WaitVisible(chromedp.CSS("#paddy")))
	b.register()
	b.untilWeedNow()
	b.do("answer 1", chromedp.SendKeys(chromedp.CSS("#text"), "1"+enter))
	b.wait("the answer to it", `document.querySelectorAll("#entries li.mine").length === 1 &&
		document.querySelector("#entries li").textContent.includes("logged")`)
	b.wait("the pass in the picture", `document.querySelector("#seasons").textContent.includes("Just weeded")`)
	b.click("#read")
	b.wait("nothing unread", `document.querySelector(".notebook .unread, .fresh") === null`)
	b.shot("weeded")
	b.moveCalendar()
	b.dialAfterTheCalendar()
	b.beginAgain()
}

// register registers a plot with the keypad on the page and the keyboard in turn.
func (b *browser) register() {
	b.answer(b.keypad, "*123#", "")
	b.shot("language")
	b.answer(b.keys, b.choice("English"), enter)
	b.shot("welcome")
	b.answer(b.keys, b.choice("yes"), enter)
	b.answer(b.keypad, b.choice("new plot"), enter)
	b.answer(b.keys, b.choice("seedlings in lines"), enter)
	b.answer(b.keys, b.choice("today"), enter)
	b.answer(b.keypad, b.choice("always"), "")
	b.answer(b.keys, b.choice("25 x 25 cm"), enter)
	b.answer(b.keys, "9\b15", enter) // backspace removes the 9, so 15 is sent
	b.answer(b.keys, "600", enter)
	b.shot("registered")
	if screen := b.text("#screen"); !strings.Contains(screen, "600 m2") {
		b.t.Errorf("the plot is not saved with its area:\n%s", screen)
	}
	b.keys(escape)
	b.wait("hung up", `document.querySelector(".screen-idle") !== null`)
	b.wait("the season is drawn", `document.querySelectorAll("#seasons svg").length === 1`)
}

// untilWeedNow moves the calendar from text to text, until a text says "weed now".
func (b *browser) untilWeedNow() {
	for range 6 {
		before := b.text("#date")
		b.click("#next-text")
		b.waitForOther("another day", "#date", before)
		b.wait("the page is ready", `document.body.getAttribute("aria-busy") === null`)
		if strings.Contains(b.text("#entries li:first-child"), "weed now") {
			break
		}
	}
	if newest := b.text("#entries li:first-child"); !strings.Contains(newest, "weed now") ||
		!strings.Contains(newest, "new") {
		b.t.Fatalf("the newest text is not the window's opening: %s", newest)
	}
	b.shot("open")
}

// moveCalendar moves the calendar one day with the keyboard, then starts and stops the automatic calendar.
func (b *browser) moveCalendar() {
	before := b.text("#date")
	b.do("focus", chromedp.Focus(chromedp.CSS("#next-day")))
	b.keys(enter)
	b.waitForOther("the next day", "#date", before)
	b.click("#play")
	b.wait("days go by", `document.querySelector("#play").getAttribute("aria-pressed") === "true"`)
	b.waitForOther("another day", "#date", b.text("#date"))
	b.click("#play")
	b.wait("stopped", `document.querySelector("#play").getAttribute("aria-pressed") === "false"`)
}

// dialAfterTheCalendar dials while a button of the calendar has the focus. Enter dials and does not move the calendar.
func (b *browser) dialAfterTheCalendar() {
	date := b.text("#date")
	for _, how := range []func(string){b.keypad, b.keys} {
		b.do("focus", chromedp.Focus(chromedp.CSS("#next-day")))
		b.answer(how, "*123#", enter)
		b.keys(escape)
		b.wait("hung up", `document.querySelector(".screen-idle") !== null`)
	}
	if now := b.text("#date"); now != date {
		b.t.Errorf("Enter moved the calendar from %s to %s", date, now)
	}
}

// beginAgain sets all phones back to the first day, on which the new phone had no plot.
func (b *browser) beginAgain() {
	b.click("#again summary")
	b.click("#begin-again")
	b.wait("the first day", `document.querySelector("#date .date-day").textContent === "1"`)
	b.wait("nothing of what was done", `document.querySelector(".season-none") &&
		document.querySelector(".entry-none") && !document.querySelector("#again").open &&
		document.querySelector("#about").textContent === "No plot yet."`)
}

// The first page links to the comparison of seasons with and without reminders. There a user can choose other growers
// and another year.
func TestWorthInABrowser(t *testing.T) {
	b := openBrowser(t)
	r := openTest(t)
	b.open(r.url+"/practice/", 1280, 860, "#new-phone")
	b.click(`a[href="/practice/worth"]`)
	b.do("the usual growers", chromedp.WaitVisible(chromedp.CSS("#played-usual-normal")))
	b.do("choose", chromedp.SetValue(chromedp.CSS("select[name=growers]"), "honest"),
		chromedp.SetValue(chromedp.CSS("select[name=year]"), "dry"))
	b.click("#compare")
	b.do("honest growers in a dry year", chromedp.WaitVisible(chromedp.CSS("#played-honest-dry")))
	if bars := b.text("#bars"); !strings.Contains(bars, "% by habit") || !strings.Contains(bars, "% with the bell") {
		t.Errorf("the picture says %s", bars)
	}
	b.shot("worth")
}

// look answers the text that asks for a look, for the picture in the README.
func (b *browser) look(phone string) {
	b.open(phone, 1280, 800, "#paddy")
	b.click("#next-text")
	b.wait("the question", `document.querySelector("#entries li.fresh") !== null`)
	b.do("answer 3", chromedp.SendKeys(chromedp.CSS("#text"), "3"+enter))
	b.wait("the days that follow", `document.querySelector("#seasons").textContent.includes("window 1: 13 to 16 Nov")`)
	b.shot("looked")
	b.saveScreenshot("looked")
}

// On every screen from a small phone up, no page is wider than the screen, every key is large enough for a finger, and
// no elements overlap. From 1280 x 800 up, handset and texts end on the screen. Where the picture of a season is wider
// than the screen, a line says that it can be slid.
func TestPracticeOnEveryScreen(t *testing.T) {
	b := openBrowser(t)
	r := openOn(t, engine.Date(2026, time.November, 9)) // on which Asha has the plot of the README
	b.look(r.url + "/practice/phone/447700900001")
	fits := func(name string) {
		b.shot(name)
		b.wait(name+" has no sideways scroll",
			`document.documentElement.scrollWidth <= document.documentElement.clientWidth`)
	}
	// This page computes seasons, which takes time, so it is opened once.
	b.open(r.url+"/practice/worth", 360, 740, "main")
	fits("worth-small")
	b.do("wide", chromedp.EmulateViewport(1280, 800))
	b.wait("the page is wide", `innerWidth === 1280`)
	fits("worth-wide")
	for _, size := range []struct {
		name          string
		width, height int64
	}{{"small", 360, 740}, {"tablet", 800, 1100}, {"wide", 1280, 800}, {"wider", 1920, 1080}} {
		for _, path := range []string{"/practice/", "/practice/phone/447700900001"} {
			b.open(r.url+path, size.width, size.height, "main")
			fits(filepath.Base(path) + "-" + size.name)
		}
		b.wait("every key is large enough to touch, at "+size.name,
			`[...document.querySelectorAll("#paddy button, .keys-top button, .move")].every(k => {
				const r = k.getBoundingClientRect();
				return r.width >= 44 && r.height >= 44;
			})`)
		b.wait("nothing overlaps, at "+size.name, `(() => {
			const parts = document.querySelectorAll(".word, .holder, .handset, .notebook, .field");
			const boxes = [...parts].map(e => e.getBoundingClientRect());
			const apart = (a, b) => a.right <= b.left + 1 || a.bottom <= b.top + 1;
			return boxes.every((a, i) => boxes.every((b, j) => i === j || apart(a, b) || apart(b, a)));
		})()`)
		b.wait("a picture that slides says so, at "+size.name, `(() => {
			const picture = document.querySelector(".season-picture");
			const slides = picture.scrollWidth > picture.clientWidth;
			const sign = document.querySelector(".slide").getClientRects().length > 0;
			return slides === sign && slides === (innerWidth === 360);
		})()`)
		if size.width >= 1280 {
			b.wait("handset and texts end on the screen, at "+size.name, `(() => {
				document.querySelector(".entry-line").before(...Array.from({ length: 9 }, () =>
					document.querySelector(".entry-line").cloneNode(true)));
				return [".handset", ".notebook"].every(
					(s) => document.querySelector(s).getBoundingClientRect().bottom <= innerHeight);
			})()`)
		}
	}
}
