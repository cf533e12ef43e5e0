package browser

import (
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
)

func TestMain(m *testing.M) { os.Exit(Main(m)) }

// sound is a page that breaks no rule; %s are styles and content of a case.
const (
	soundHead = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Plots</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,"><style>`
	soundBody = `</style></head><body><main><h1>Plots</h1><p>Nine plots.</p>`
	soundTail = `</main></body></html>`
)

// faults are pages with one planted fault each, and the rule that must find it in exactly these views. The last is no
// fault, and no rule may find one.
var faults = []struct{ name, style, body, rule, on string }{
	{"a field without a label", "", `<form><input name="area"></form>`, "label", "everywhere"},
	{"pale letters", "p { color: #aaa }", "", "color-contrast", "everywhere"},
	{"pale letters in print alone", "@media print { p { color: #aaa } }", "", "color-contrast", "print"},
	{"pale letters on the phone alone", "@media screen and (max-width: 40rem) { p { color: #aaa } }", "",
		"color-contrast", "phone"},
	{"small targets", "button { padding: 0; border: 0; height: 12px; width: 12px; font-size: 8px }",
		`<p><button>a</button><button>b</button></p>`, "target-size", "everywhere"},
	{"a picture without words", "", `<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">`, "image-alt",
		"everywhere"},
	{"a heading that is passed over", "", `<h4>Deep</h4>`, "heading-order", "everywhere"},
	{"a label that names its field", "", `<form><label>Area <input name="area"></label></form>`, "", ""},
}

// Each planted fault is found by its rule, in the views that have the fault and in no other.
func TestAuditFindsFaults(t *testing.T) {
	for _, f := range faults {
		t.Run(f.name, func(t *testing.T) {
			w := show(t, f.style, f.body)
			for _, v := range Views {
				var found []string
				for _, each := range w.Violations(v) {
					found = append(found, each.Rule)
				}
				want := []string{f.rule}
				if on := f.on; on == "" || on == "print" && v.Media != "print" ||
					on == "phone" && (v.Width != 360 || v.Media == "print") {
					want = nil
				}
				if !slices.Equal(found, want) {
					t.Errorf("%s: found %v, want %v", v.Name, found, want)
				}
			}
		})
	}
}

// show opens a page with this style sheet and content.
func show(t *testing.T, style, body string) *Window {
	t.Helper()
	page := httptest.NewServer(http.HandlerFunc(func(out http.ResponseWriter, _ *http.Request) {
		out.Header().Set("Content-Type", "text/html; charset=utf-8")
		out.Header().Set("Content-Security-Policy",
			"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'self'")
		_, _ = out.Write([]byte(soundHead + style + soundBody + body + soundTail))
	}))
	t.Cleanup(page.Close)
	w := Open(t)
	w.Show(page.URL, 360, 740, "main")
	return w
}

// Each planted fault of the focus is found, and nothing is found on a page without one.
func TestFocusFaults(t *testing.T) {
	w := show(t, `.unmarked:focus { outline: none } .cover { position: fixed; inset: 0 auto auto 0; width: 320px;
		height: 30px; margin: 0 } .under { position: fixed; inset: 0 auto auto 0 }`,
		`<button class="under">a</button><p class="cover">b</p><p><a class="unmarked" href="#c">c</a>
		<button tabindex="3">d</button> <a href="#e">e</a> <button disabled>f</button> <button hidden>g</button>
		<label>h <input></label></p>`)
	var found []string
	for _, fault := range w.FocusFaults() {
		what, _, _ := strings.Cut(fault, ":")
		found = append(found, what)
	}
	want := []string{"is covered when it has the focus", "shows no focus", "out of order"}
	if !slices.Equal(found, want) {
		t.Errorf("found %q, want %q", found, want)
	}
}

// A page that is wider than the narrowest window is found; a table that scrolls in its own box is not.
func TestTooWide(t *testing.T) {
	for _, x := range []struct {
		body string
		want int
	}{
		{`<div style="width: 400px">wide</div>`, 400 + 8 - narrowest}, // 8 = the margin of the body on the left
		{`<div style="overflow-x: auto"><div style="width: 400px">wide</div></div>`, 0},
	} {
		if got := show(t, "", x.body).TooWide(); got != x.want {
			t.Errorf("%s: %d pixels too wide, want %d", x.body, got, x.want)
		}
	}
}

// Small letters in a picture are found as they are shown, not as they are drawn.
func TestSmallWords(t *testing.T) {
	w := show(t, "", `<svg viewBox="0 0 720 20" width="360" height="10" role="img" aria-label="sizes">
		<text y="16" font-size="20">ten</text><text x="200" y="16" font-size="16">eight</text></svg>`)
	if got := w.SmallWords(); !slices.Equal(got, []string{"eight"}) {
		t.Errorf("found %q, want only the word of eight pixels", got)
	}
}
