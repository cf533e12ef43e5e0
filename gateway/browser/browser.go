// Package browser opens pages in a headless Chromium, for tests: it clicks, types and waits, and checks pages against
// the rules of accessibility of the open rule engine axe-core.
//
//	func TestMain(m *testing.M) { os.Exit(browser.Main(m)) }
//
//	w := browser.Open(t)
//	w.Show(server.URL+"/practice/", 360, 740, "main")
//	w.Click("#new-phone")
//	w.Audit("the list of phones")
//
// The package knows no page of the project: which pages are opened, and what they must show, stands in the tests of the
// package that serves them. A test never sleeps: it waits until the page shows something.
package browser

import (
	"context"
	"flag"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// patience is how long a window may take for a whole test before the test fails.
const patience = 5 * time.Minute

// Window is a window of the browser, with cookies of its own.
type Window struct {
	t     testing.TB
	ctx   context.Context
	shots string // folder for screenshots of the page; "" = no screenshots

	mu         sync.Mutex
	complaints []complaint
	refused    map[string]bool // pages by their address that Follow found to be answered with a status of 400 or higher
}

// complaint is an error or a warning that the browser logged about the page or a file of it.
type complaint struct{ about, what string }

// start starts the browser that all tests of a package share. The context is nil if no browser is installed.
var start = sync.OnceValues(func() (context.Context, error) {
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
	closeBrowser = func() {
		end()
		stop()
		os.RemoveAll(dir)
	}
	return ctx, chromedp.Do(ctx)
})

var closeBrowser = func() {}

// Main runs the tests of a package, then closes the browser. It returns the exit status for TestMain.
func Main(m *testing.M) int {
	flag.Parse()
	defer func() { closeBrowser() }()
	return m.Run()
}

// Open opens a window of the browser, with no cookies or pages of another test. Without an installed browser the test
// is skipped, or fails in CI; with the race detector it is skipped. The test also fails if the browser logs an error or
// a warning about a page. The environment variable ROWBELL_SHOTS names a folder for screenshots.
func Open(t testing.TB) *Window {
	t.Helper()
	if raced {
		t.Skip("takes minutes under the race detector; what the pages call is tested without a browser, too")
	}
	shared, err := start()
	if err != nil {
		t.Fatal(err)
	}
	if shared == nil {
		missing(t, "no browser found: install chromium")
	}
	w := &Window{t: t, shots: os.Getenv("ROWBELL_SHOTS"), refused: map[string]bool{}}
	ctx, closeWindow := chromedp.NewContext(shared, chromedp.WithNewBrowserContext())
	t.Cleanup(closeWindow)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	w.ctx, closeWindow = context.WithTimeout(ctx, patience)
	t.Cleanup(closeWindow)
	if err := chromedp.Listen(w.ctx, w.listen); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(w.checkComplaints)
	return w
}

// missing ends a test that cannot run on this machine: in CI it fails, elsewhere it is skipped.
func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf("%s; CI is set, so this test may not be skipped", what)
	}
	t.Skipf("%s to run this test", what)
}

func (w *Window) listen(ev any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch ev := ev.(type) {
	case *log.EventEntryAdded:
		if l := ev.Entry.Level; l == log.EntryLevelWarning || l == log.EntryLevelError {
			w.complaints = append(w.complaints, complaint{ev.Entry.URL, ev.Entry.Text})
		}
	case *runtime.EventExceptionThrown:
		w.complaints = append(w.complaints, complaint{ev.ExceptionDetails.URL, ev.ExceptionDetails.Text})
	}
}

// checkComplaints fails the test for what the browser logged. It expects an error for a page whose status Follow
// returned.
func (w *Window) checkComplaints() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.complaints {
		if !w.refused[c.about] || !strings.Contains(c.what, "responded with a status of") {
			w.t.Errorf("the browser complains about %s: %s", c.about, c.what)
		}
	}
}
