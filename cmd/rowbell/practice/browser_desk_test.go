package practice

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"rowbell/gateway/browser"
)

// dinh is the phone of Dinh, whose plot has its last days on the first day of practice.
const dinh = "447700900004"

// listed is an expression: whether the list of the morning has the plot of a phone, or has not.
func listed(phone string, yes bool) string {
	return fmt.Sprintf(`(document.querySelector("#morning-list a[href$='%s']") !== null) === %t`, phone, yes)
}

// weeded answers the text on a phone: the plot was weeded.
func (b window) weeded(url, phone string) {
	b.t.Helper()
	b.Show(url+"/practice/phone/"+phone, 1280, 800, "#paddy")
	b.Do("weeded", chromedp.SendKeys(chromedp.CSS("#text"), "1"+browser.Enter))
	b.Wait("the answer", `document.querySelector("#entries li.mine") !== null &&
		document.querySelector("#entries li").textContent.includes("logged")`)
}

// A person opens the desk from the page of the phones. A text on a phone changes the list at the desk without a reload,
// and beside the handset it is said that the list has changed, also when somebody at the desk has changed it.
func TestDeskBesideTheHandset(t *testing.T) {
	r := openTest(t)
	phone, desk := openBrowser(t), openBrowser(t)
	desk.Show(r.url+"/desk/login", 1280, 800, ".enter")
	desk.Press(`.enter input[value="` + fieldWorker + `"] ~ button`)
	desk.Says(".self", fieldWorker)
	desk.Wait("the plot of Dinh is on the list", listed(dinh, true))
	desk.Wait("the desk leads back to the phones", `document.querySelector(".nav a[href='/practice/']") !== null`)
	desk.Shot("desk-before")
	phone.weeded(r.url, dinh)
	desk.Wait("the plot has left the list", listed(dinh, false))
	desk.Says(".live-state", "the list was renewed")
	desk.Shot("desk-after")
	phone.Says("#desk-news", "The list on the desk has changed.")
	phone.Shot("phone-after")
	phone.Do("not said again", chromedp.Evaluate[chromedp.Void](
		`document.querySelector("#desk-news").textContent = ""`))
	desk.Press(`.calls li:last-child form button`)
	phone.Wait("what was done at the desk is told", `document.querySelector("#desk-news").textContent !== ""`)
}

// Without scripts the button on the page of the phones opens the desk, and the list has changed after a reload.
func TestDeskWithoutScripts(t *testing.T) {
	r := openTest(t)
	phone, desk := openBrowser(t), openBrowser(t)
	desk.WithoutScripts()
	desk.Show(r.url+"/practice/", 360, 740, ".desk-door")
	desk.Do("in the same window", chromedp.Evaluate[chromedp.Void](
		`document.querySelector(".desk-door").removeAttribute("target")`))
	desk.Press(".desk-door button")
	desk.Wait("the list", listed(dinh, true))
	phone.weeded(r.url, dinh)
	desk.Wait("still the old list", listed(dinh, true))
	desk.Show(r.url+"/desk/", 360, 740, "#morning-list")
	desk.Wait("the new list", listed(dinh, false))
}
