package browser

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Keys that Keys and Type take.
const (
	Enter  = "\r"
	Escape = "\x1b"
)

// wait is how long a window waits for an element, a page, or an expression to become true.
const wait = 30 * time.Second

// Show opens a page in a window of this size in CSS pixels and waits for the element visible.
func (w *Window) Show(url string, width, height int64, visible string) {
	w.t.Helper()
	w.Resize(width, height)
	w.Do("open "+url, chromedp.Navigate(url), chromedp.WaitVisible(chromedp.CSS(visible)))
}

// Resize gives the window another size in CSS pixels.
func (w *Window) Resize(width, height int64) {
	w.t.Helper()
	w.Do("resize", chromedp.EmulateViewport(width, height))
}

// Do runs the steps. If one fails, the test fails and says what was done.
func (w *Window) Do(what string, steps ...chromedp.Action[chromedp.Void]) {
	w.t.Helper()
	ctx, stop := context.WithTimeout(w.ctx, 2*wait)
	defer stop()
	if err := chromedp.Do(ctx, steps...); err != nil {
		w.Shot("failed")
		w.t.Fatalf("%s: %v (ROWBELL_SHOTS names a folder for pictures of the page)", what, err)
	}
}

// Follow runs steps that lead to another page, such as a click on a link or on the button of a form, waits until the
// page is loaded, and returns its HTTP status.
func (w *Window) Follow(what string, steps ...chromedp.Action[chromedp.Void]) (status int) {
	w.t.Helper()
	ctx, stop := context.WithTimeout(w.ctx, wait)
	defer stop()
	page, err := chromedp.RunResponse(ctx, steps...)
	if err != nil {
		w.Shot("failed")
		w.t.Fatalf("%s: %v (ROWBELL_SHOTS names a folder for pictures of the page)", what, err)
	}
	if page.Status >= 400 {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.refused[page.URL] = true
	}
	return int(page.Status)
}

// Press clicks a link or a button that leads to another page, and returns the HTTP status of that page.
func (w *Window) Press(sel string) (status int) {
	w.t.Helper()
	return w.Follow("press "+sel, chromedp.Click(chromedp.CSS(sel)))
}

// Wait waits until the JavaScript expression is true.
func (w *Window) Wait(what, expression string) {
	w.t.Helper()
	w.Do(what, func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(wait))(ctx, t)
		return chromedp.Void{}, err
	})
}

// WaitForOther waits until the text of the element sel differs from before.
func (w *Window) WaitForOther(what, sel, before string) {
	w.t.Helper()
	w.Wait(what, fmt.Sprintf(`document.querySelector(%q).textContent !== %q`, sel, before))
}

// Text returns the text of the first element that matches the selector.
func (w *Window) Text(sel string) string {
	w.t.Helper()
	ctx, stop := context.WithTimeout(w.ctx, wait)
	defer stop()
	s, err := chromedp.Run(ctx, chromedp.TextContent(chromedp.CSS(sel)))
	if err != nil {
		w.t.Fatalf("%s: %v", sel, err)
	}
	return s
}

// Says fails the test unless the text of the element contains all of these texts.
func (w *Window) Says(sel string, texts ...string) {
	w.t.Helper()
	said := w.Text(sel)
	for _, want := range texts {
		if !strings.Contains(said, want) {
			w.t.Errorf("%s does not say %q:\n%s", sel, want, said)
		}
	}
}

// Value returns the value of a JavaScript expression.
func Value[T any](w *Window, expression string) T {
	w.t.Helper()
	v, err := chromedp.Run(w.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		w.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// Click clicks the first element that matches the selector.
func (w *Window) Click(sel string) {
	w.t.Helper()
	w.Do("click "+sel, chromedp.Click(chromedp.CSS(sel)))
}

// Type types into a field.
func (w *Window) Type(sel, text string) {
	w.t.Helper()
	w.Do("type into "+sel, chromedp.SendKeys(chromedp.CSS(sel), text))
}

// Set gives a field another value, as a person does who clears it first.
func (w *Window) Set(sel, value string) {
	w.t.Helper()
	w.Do("set "+sel, chromedp.SetValue(chromedp.CSS(sel), value))
}

// Keys types keys for the element that has the focus.
func (w *Window) Keys(keys string) {
	w.t.Helper()
	w.Do("keys", chromedp.KeyEvent(keys))
}

// Shot writes a screenshot of the whole page into the folder for screenshots, if there is one.
func (w *Window) Shot(name string) {
	w.t.Helper()
	if w.shots == "" {
		return
	}
	png, err := chromedp.Run(w.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(w.shots, name+".png"), png, 0o644)
	}
	if err != nil {
		w.t.Logf("no picture of %s: %v", name, err)
	}
}

// WithoutScripts makes the window run no scripts of pages from now on. What the test evaluates still runs.
func (w *Window) WithoutScripts() {
	w.t.Helper()
	w.Do("no scripts", func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled,
			emulation.SetScriptExecutionDisabledParams{Value: true})
		return chromedp.Void{}, err
	})
}

// Choose chooses the option with this label in a list.
func (w *Window) Choose(sel, label string) {
	w.t.Helper()
	if !Value[bool](w, fmt.Sprintf(`(() => {
		const list = document.querySelector(%q);
		const option = [...list.options].find((o) => o.text.trim() === %q);
		if (!option) return false;
		list.value = option.value;
		list.dispatchEvent(new Event("change", {bubbles: true}));
		return true;
	})()`, sel, label)) {
		w.t.Fatalf("%s has no option %q", sel, label)
	}
}
