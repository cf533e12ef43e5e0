package practice

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"rowbell/gateway/browser"
)

// choose dials the answers with these labels one after the other. A label that is not on the screen is looked for on
// the next page of the screen.
func (b window) choose(labels ...string) {
	b.t.Helper()
	for _, label := range labels {
		if more := regexp.MustCompile(`(?m)^9 more`); !strings.Contains(b.Text("#screen"), label) &&
			more.MatchString(b.Text("#screen")) {
			b.answer(b.Keys, "9", browser.Enter)
		}
		b.answer(b.Keys, b.choice(label), browser.Enter)
	}
}

// On the phone of a member of the circle a person says that a tool is broken. The picture then shows other turns, and
// only the members whose turns moved got a text. The next day the tool is repaired, on the phone of another member.
func TestToolBreaksInABrowser(t *testing.T) {
	r := openTest(t)
	b := openBrowser(t) // closes before the service, which its pages follow
	b.Show(r.url+"/practice/", 1280, 800, "#new-phone")
	if said := b.Text("main"); !strings.Contains(said, "5 growers share 2 tools") {
		t.Errorf("the list of phones does not show the circle: %s", said)
	}
	b.Shot("circle-shelf")
	b.Click(`.phone-card[href$="11"]`)
	b.Do("the phone of the keeper", chromedp.WaitVisible(chromedp.CSS("#paddy")))
	b.circleHas("Red, 3 Jun to 4 Jun", "Red: 3 to 4 Jun Kofi")
	b.Shot("circle-whole")
	before := b.Text("#circle")
	b.answer(b.keypad, "*123#", browser.Enter)
	b.choose("tool and planting", "circle: share tools", "tools", "Red, 15 cm", "it is broken", "yes")
	b.WaitForOther("other turns", "#circle", before)
	b.circleHas("Text about turns on 1 Jun: to Kofi, Musa; not to Imani, Jaya, Lina.",
		"Kofi", "Blue, 8 Jun to 9 Jun (late)", "Red: out of use")
	for _, member := range circleGrowers() {
		n := strings.TrimPrefix(member.phone.E164(), "+")
		// Imani has the text of this morning.
		unread := member.name == "Kofi" || member.name == "Musa" || member.name == "Imani"
		b.Wait(member.name+" is texted, or not",
			fmt.Sprintf(`(document.querySelector("#to-%s .unread") !== null) === %t`, n, unread))
	}
	b.Shot("circle-broken")
	b.Do("a small screen", chromedp.EmulateViewport(360, 740))
	b.Wait("the page is small", `innerWidth === 360`)
	b.Shot("circle-broken-small")
	b.Wait("no sideways scroll", `document.documentElement.scrollWidth <= document.documentElement.clientWidth`)
	b.Do("wide again", chromedp.EmulateViewport(1280, 800))
	b.Click("#next-day")
	b.Wait("the next day", `document.querySelector("#date .date-day").textContent === "2"`)
	b.Click(`.circle-who a[href$="14"]`)
	b.Do("the phone of Lina", chromedp.WaitVisible(chromedp.CSS("#to-447700900014[aria-current]")))
	before = b.Text("#circle")
	b.answer(b.keypad, "*123#", browser.Enter)
	b.choose("tool and planting", "circle: share tools", "tools", "Red, 15 cm, broken", "it is repaired", "yes")
	b.WaitForOther("other turns", "#circle", before)
	b.circleHas("Text about turns on 2 Jun: to Kofi; not to Imani, Jaya, Lina, Musa.",
		"Red, 3 Jun to 4 Jun")
	b.Shot("circle-repaired")
}

// circleHas checks that the turns of the circle on the page contain these texts.
func (b window) circleHas(texts ...string) {
	b.t.Helper()
	said := b.Text("#circle")
	for _, want := range texts {
		if !strings.Contains(said, want) {
			b.t.Errorf("the circle does not show %q:\n%s", want, said)
		}
	}
}
