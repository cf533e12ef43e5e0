package browser

import "fmt"

// focusScript gives the focus to each element that the Tab key reaches, and lists what is wrong: an element that takes
// no focus (WCAG 2.2, 2.1.1), that shows no mark when it has the focus (2.4.7), that another element covers then
// (2.4.11), or that a tabindex above 0 puts out of order (2.4.3).
const focusScript = `(() => {
	const faults = [];
	const all = document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]");
	for (const e of all) {
		if (e.tabIndex < 0 || e.disabled || e.type === "hidden") continue;
		if (!e.checkVisibility({visibilityProperty: true})) continue;
		const wrong = (what) => faults.push(what + ": " + e.outerHTML.slice(0, 160));
		if (e.tabIndex > 0) wrong("out of order");
		e.focus({focusVisible: true});
		if (document.activeElement !== e) {
			wrong("takes no focus");
			continue;
		}
		const style = getComputedStyle(e);
		const outlined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0;
		if (!outlined && style.boxShadow === "none") wrong("shows no focus");
		const box = e.getBoundingClientRect();
		const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
		if (!top || !e.contains(top) && !top.contains(e)) wrong("is covered when it has the focus");
	}
	document.activeElement.blur();
	return faults;
})()`

// FocusFaults returns what is wrong with the page for those who use a keyboard.
func (w *Window) FocusFaults() []string {
	w.t.Helper()
	return Value[[]string](w, focusScript)
}

// narrowest is the width in CSS pixels at which a page must not need to be scrolled sideways (WCAG 2.2, 1.4.10: as wide
// as a window of 1280 pixels at a zoom of 400 %). A table or a picture may scroll in a part of the page.
const narrowest = 320

// TooWide returns by how many CSS pixels the page is wider than the narrowest window that it must fit.
func (w *Window) TooWide() int {
	w.t.Helper()
	w.Resize(narrowest, 256)
	return max(0, Value[int](w, `document.documentElement.scrollWidth - document.documentElement.clientWidth`))
}

// smallestPX is the least size of letters in a picture, in CSS pixels as they are shown (judgement). A picture that is
// made smaller to fit a phone has smaller letters; then it must slide instead.
const smallestPX = 9

// SmallWords returns the words in pictures whose letters are shown smaller than smallestPX.
func (w *Window) SmallWords() []string {
	w.t.Helper()
	return Value[[]string](w, fmt.Sprintf(`[...document.querySelectorAll("svg text")].filter((e) => {
		const size = parseFloat(getComputedStyle(e).fontSize) * e.getScreenCTM().a;
		return e.textContent.trim() && size < %d;
	}).map((e) => e.textContent.trim())`, smallestPX))
}
