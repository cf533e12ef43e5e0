package practice

import (
	"context"
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
)

// browser is a person in front of the page.
type browser struct {
	t     *testing.T
	ctx   context.Context
	shots string

	mu        sync.Mutex
	complains []string // what the browser had to say of the page
}

// openBrowser starts a browser of its own. Where there is none the test is
// skipped, but not in CI.
func openBrowser(t *testing.T) *browser {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("no browser found, and CI is set: install chromium")
		}
		t.Skip("no browser found: install chromium to run this test")
	}
	b := &browser{t: t, shots: os.Getenv("ROWBELL_SHOTS")}
	if b.shots == "" {
		b.shots = t.TempDir()
	}
	ctx, stop := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath(path),
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("disable-dev-shm-usage", true))
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	b.ctx, stop = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(stop)
	err := chromedp.Listen(b.ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch ev := ev.(type) {
		case *log.EventEntryAdded:
			b.complains = append(b.complains, ev.Entry.Text)
		case *runtime.EventExceptionThrown:
			b.complains = append(b.complains, ev.ExceptionDetails.Text)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *browser) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.shot("failed")
		b.t.Fatalf("%s: %v (the page is in %s)", what, err, b.shots)
	}
}

// wait waits until the expression is true on the page.
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

func (b *browser) click(sel string) {
	b.t.Helper()
	b.do("click "+sel, chromedp.Click(chromedp.CSS(sel)))
}

func (b *browser) keys(keys string) {
	b.t.Helper()
	b.do("keys", chromedp.KeyEvent(keys))
}

// keypad presses the keys on the page, one by one.
func (b *browser) keypad(keys string) {
	b.t.Helper()
	for _, key := range keys {
		b.click(fmt.Sprintf(`#paddy [data-key="%c"]`, key))
	}
}

// choice is the digit before a choice on the screen.
func (b *browser) choice(label string) string {
	b.t.Helper()
	screen := b.text("#screen")
	m := regexp.MustCompile(`(?m)^(\d) ` + regexp.QuoteMeta(label) + `\s*$`).FindStringSubmatch(screen)
	if m == nil {
		b.t.Fatalf("no choice %q on the screen:\n%s", label, screen)
	}
	return m[1]
}

// answer types an answer and waits until another screen stands there.
func (b *browser) answer(how func(string), entry, end string) {
	b.t.Helper()
	before := b.text("#screen")
	how(entry)
	if end != "" {
		b.keys(end)
	} else {
		b.click("#go")
	}
	b.wait("the screen after "+entry, fmt.Sprintf(`document.querySelector("#screen").textContent !== %q`, before))
}

func (b *browser) shot(name string) {
	b.t.Helper()
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

func TestPracticeInABrowser(t *testing.T) {
	b := openBrowser(t)
	r := openTest(t)
	b.do("open the page", chromedp.EmulateViewport(1280, 860), chromedp.Navigate(r.url+"/"), chromedp.WaitVisible(chromedp.CSS("#new-phone")))
	if said := b.text("main"); !strings.Contains(said, "Nothing is sent") || !strings.Contains(said, "invented") {
		t.Errorf("the page does not say that it is practice: %s", said)
	}
	b.shot("shelf")
	b.click("#new-phone")
	b.do("pick up a new phone", chromedp.WaitVisible(chromedp.CSS("#paddy")))

	// Register a plot, on the keypad and by keyboard in turn.
	b.answer(b.keypad, "*123#", "")
	b.shot("language")
	b.answer(b.keys, b.choice("English"), enter)
	b.shot("welcome")
	b.answer(b.keys, b.choice("yes"), enter)
	b.answer(b.keypad, b.choice("new plot"), enter)
	b.answer(b.keys, b.choice("seedlings in lines"), enter)
	b.answer(b.keys, b.choice("today"), enter)
	b.answer(b.keypad, b.choice("25 cm"), "")
	b.answer(b.keys, b.choice("yes"), enter)
	b.answer(b.keys, "9\b15", enter) // backspace takes the 9 back
	b.answer(b.keys, "600", enter)
	b.shot("registered")
	if screen := b.text("#screen"); !strings.Contains(screen, "600 m2") {
		t.Errorf("the plot is not saved as it was told:\n%s", screen)
	}
	b.keys(escape)
	b.wait("hung up", `document.querySelector(".screen-idle") !== null`)
	b.wait("the season is drawn", `document.querySelectorAll("#seasons svg").length === 1`)

	// On to the text that says "weed now", and the answer.
	for range 6 {
		before := b.text("#date")
		b.click("#next-text")
		b.wait("another day", fmt.Sprintf(`document.querySelector("#date").textContent !== %q && document.body.getAttribute("aria-busy") === null`, before))
		if strings.Contains(b.text("#entries li:first-child"), "weed now") {
			break
		}
	}
	if newest := b.text("#entries li:first-child"); !strings.Contains(newest, "weed now") || !strings.Contains(newest, "new") {
		t.Fatalf("the newest text is not the window's opening: %s", newest)
	}
	b.shot("open")
	b.do("answer 1", chromedp.SendKeys(chromedp.CSS("#text"), "1"+enter))
	b.wait("the answer to it", `document.querySelectorAll("#entries li.mine").length === 1 && document.querySelector("#entries li").textContent.includes("logged")`)
	b.wait("the pass on the strip", `document.querySelector("#seasons").textContent.includes("Just weeded")`)
	b.click("#read")
	b.wait("nothing unread", `document.querySelector(".notebook .unread, .fresh") === null`)
	b.shot("weeded")

	// The calendar without a mouse: the button has the focus, Enter presses it.
	before := b.text("#date")
	b.do("focus", chromedp.Focus(chromedp.CSS("#next-day")))
	b.keys(enter)
	b.wait("the next day", fmt.Sprintf(`document.querySelector("#date").textContent !== %q`, before))
	b.click("#play")
	b.wait("days go by", `document.querySelector("#play").getAttribute("aria-pressed") === "true"`)
	before = b.text("#date")
	b.wait("another day", fmt.Sprintf(`document.querySelector("#date").textContent !== %q`, before))
	b.click("#play")
	b.wait("stopped", `document.querySelector("#play").getAttribute("aria-pressed") === "false"`)

	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range b.complains {
		t.Errorf("the browser complains: %s", c)
	}
}

// What the bell is worth: found from the way in, played with other growers and
// another year.
func TestWorthInABrowser(t *testing.T) {
	b := openBrowser(t)
	r := openTest(t)
	b.do("open the page", chromedp.EmulateViewport(1280, 860), chromedp.Navigate(r.url+"/practice/"), chromedp.WaitVisible(chromedp.CSS("#new-phone")))
	b.click(`a[href="/practice/worth"]`)
	b.do("the usual growers", chromedp.WaitVisible(chromedp.CSS("#played-usual-normal")))
	b.do("choose", chromedp.SetValue(chromedp.CSS("select[name=growers]"), "honest"), chromedp.SetValue(chromedp.CSS("select[name=year]"), "dry"))
	b.click("#compare")
	b.do("honest growers in a dry year", chromedp.WaitVisible(chromedp.CSS("#played-honest-dry")))
	if bars := b.text("#bars"); !strings.Contains(bars, "% by habit") || !strings.Contains(bars, "% with the bell") {
		t.Errorf("the picture says %s", bars)
	}
	b.shot("worth")
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range b.complains {
		t.Errorf("the browser complains: %s", c)
	}
}

// Everything is there and nothing sticks out, from a small phone up.
func TestPracticeOnEveryScreen(t *testing.T) {
	b := openBrowser(t)
	r := openTest(t)
	for _, size := range []struct {
		name          string
		width, height int64
	}{{"small", 360, 740}, {"tablet", 800, 1100}, {"wide", 1280, 860}, {"wider", 1920, 1080}} {
		for _, path := range []string{"/practice/", "/practice/worth", "/practice/phone/447700900002"} {
			name := filepath.Base(path) + "-" + size.name
			b.do("open "+name, chromedp.EmulateViewport(size.width, size.height), chromedp.Navigate(r.url+path), chromedp.WaitVisible(chromedp.CSS("main")))
			b.shot(name)
			b.wait(name+" has no sideways scroll", `document.documentElement.scrollWidth <= document.documentElement.clientWidth`)
		}
		b.wait("every key is large enough to touch, at "+size.name, `[...document.querySelectorAll("#paddy button, .keys-top button, .move")].every(k => {
			const r = k.getBoundingClientRect();
			return r.width >= 44 && r.height >= 44;
		})`)
		b.wait("nothing lies over anything else, at "+size.name, `(() => {
			const boxes = [...document.querySelectorAll(".word, .holder, .handset, .notebook, .field")].map(e => e.getBoundingClientRect());
			return boxes.every((a, i) => boxes.every((b, j) => i === j || a.right <= b.left + 1 || b.right <= a.left + 1 || a.bottom <= b.top + 1 || b.bottom <= a.top + 1));
		})()`)
	}
}
