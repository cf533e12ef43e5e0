package browser

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// AxeVariable is the environment variable with the path of axe-core's script. `npm ci` in .ci/tools installs it.
const AxeVariable = "ROWBELL_AXE"

// View is a way to look at a page.
type View struct {
	Name          string
	Width, Height int64  // CSS pixels
	Media         string // media type of CSS: "screen" or "print"
}

// Views are the ways in which Audit looks at a page: a small phone and a laptop, on the screen and printed.
var Views = []View{
	{"phone", 360, 740, "screen"},
	{"phone, printed", 360, 740, "print"},
	{"laptop", 1280, 800, "screen"},
	{"laptop, printed", 1280, 800, "print"},
}

// rules are the options of axe.run: the rules of WCAG 2.0, 2.1 and 2.2 at levels A and AA, and those that the authors
// of the engine call best practice. The size of targets (WCAG 2.2, 2.5.8) is off in the engine unless it is named.
const rules = `{
	runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
	rules: {"target-size": {enabled: true}},
	resultTypes: ["violations"],
}`

// Violation is a rule that a page breaks.
type Violation struct {
	Rule  string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

func (v Violation) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", v.Rule, v.Help)
	for _, n := range v.Nodes {
		fmt.Fprintf(&b, "\n  %s\n    %s", n.HTML, strings.ReplaceAll(n.Summary, "\n", "\n    "))
	}
	return b.String()
}

// axe returns axe-core's script, or "" if the environment does not name it.
var axe = sync.OnceValues(func() (string, error) {
	path := os.Getenv(AxeVariable)
	if path == "" {
		return "", nil
	}
	b, err := os.ReadFile(path)
	return string(b), err
})

// Audit looks at the page that the window shows in all Views, and uses it with the keyboard. It fails the test for each
// rule of accessibility that the page breaks, if the page must be scrolled sideways, and if a picture has very small
// letters. Without axe-core the test is skipped, or fails in CI.
func (w *Window) Audit(name string) {
	w.t.Helper()
	for _, v := range Views {
		for _, found := range w.Violations(v) {
			w.t.Errorf("%s (%s): %s", name, v.Name, found)
		}
	}
	w.Do("back to the screen", media(""))
	w.Resize(Views[0].Width, Views[0].Height)
	if words := w.SmallWords(); len(words) > 0 {
		w.t.Errorf("%s: letters smaller than %d pixels in a picture: %q", name, smallestPX, words)
	}
	for _, fault := range w.FocusFaults() {
		w.t.Errorf("%s (keyboard): %s", name, fault)
	}
	if wide := w.TooWide(); wide > 0 {
		w.t.Errorf("%s: the page is %d pixels wider than a window of %d", name, wide, narrowest)
	}
}

// NeedsRules skips the test without axe-core, or fails it in CI. With the race detector it skips the test.
func NeedsRules(t testing.TB) {
	t.Helper()
	if raced {
		t.Skip("takes minutes under the race detector, and races with nothing")
	}
	if script, err := axe(); err != nil {
		t.Fatal(err)
	} else if script == "" {
		missing(t, AxeVariable+" is not set: run `npm ci` in .ci/tools, set it to node_modules/axe-core/axe.min.js")
	}
}

// Violations returns the rules that the page breaks in this view.
func (w *Window) Violations(v View) []Violation {
	w.t.Helper()
	NeedsRules(w.t)
	script, _ := axe()
	w.Do(v.Name, chromedp.EmulateViewport(v.Width, v.Height), media(v.Media))
	// The policy of the page forbids inline scripts; what a debugger evaluates is not under the policy.
	if !Value[bool](w, `typeof axe === "object"`) {
		w.Do("load axe-core", chromedp.Evaluate[chromedp.Void](script))
	}
	result, err := chromedp.Run(w.ctx, chromedp.Evaluate[[]byte](
		`axe.run(document, `+rules+`).then((r) => JSON.stringify(r.violations))`, chromedp.EvalAwaitPromise))
	var text string
	var found []Violation
	if err == nil {
		err = json.Unmarshal(result, &text)
	}
	if err == nil {
		err = json.Unmarshal([]byte(text), &found)
	}
	if err != nil {
		w.t.Fatalf("axe-core at %s: %v", v.Name, err)
	}
	return found
}

// media makes the page look as on this media type of CSS; "" ends that.
func media(name string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name})
		return chromedp.Void{}, err
	}
}
