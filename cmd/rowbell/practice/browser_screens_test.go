package practice

import (
	"flag"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rowbell/engine"
	"rowbell/gateway/browser"
)

// With the flag update, TestPracticeOnEveryScreen writes the screenshot for the README again:
//
//	go test ./cmd/rowbell/practice -run TestPracticeOnEveryScreen -update
var update = flag.Bool("update", false, "write gateway/handset/practice.png anew")

// look answers the text that asks for a look, for the picture in the README.
func (b window) look(phone string) {
	b.Show(phone, 1280, 800, "#paddy")
	b.Click("#next-text")
	b.Wait("the question", `document.querySelector("#entries li.fresh") !== null`)
	b.Do("answer 3", chromedp.SendKeys(chromedp.CSS("#text"), "3"+browser.Enter))
	b.Wait("the days that follow", `document.querySelector("#seasons").textContent.includes("window 1: 13 to 16 Nov")`)
	b.Shot("looked")
	if *update {
		b.SavePicture("../../../gateway/handset/practice.png")
	}
}

// On every screen from a small phone up, no page is wider than the screen, every key is large enough for a finger, and
// no elements overlap. From 1280 x 800 up, handset and texts end on the screen. Where the picture of a season is wider
// than the screen, a line says that it can be slid.
func TestPracticeOnEveryScreen(t *testing.T) {
	r := openOn(t, engine.Date(2026, time.November, 9)) // on which Asha has the plot of the README
	b := openBrowser(t)                                 // closes before the service, which its pages follow
	b.look(r.url + "/practice/phone/447700900001")
	fits := func(name string) {
		b.Shot(name)
		b.Wait(name+" has no sideways scroll",
			`document.documentElement.scrollWidth <= document.documentElement.clientWidth`)
	}
	// This page computes seasons, which takes time, so it is opened once.
	b.Show(r.url+"/practice/worth", 360, 740, "main")
	fits("worth-small")
	b.Do("wide", chromedp.EmulateViewport(1280, 800))
	b.Wait("the page is wide", `innerWidth === 1280`)
	fits("worth-wide")
	for _, size := range []struct {
		name          string
		width, height int64
	}{{"small", 360, 740}, {"tablet", 800, 1100}, {"wide", 1280, 800}, {"wider", 1920, 1080}} {
		b.Show(r.url+"/practice/", size.width, size.height, "main")
		fits("practice-" + size.name)
		for _, phone := range []string{"447700900001", "447700900011"} {
			b.Show(r.url+"/practice/phone/"+phone, size.width, size.height, "main")
			fits(phone + "-" + size.name)
			b.partsFit(size.name, size.width >= 1280)
		}
	}
}

// partsFit checks keys, boxes and pictures of the page of a phone. wide reports whether handset, texts and the turns of
// the phone's circle must end on the screen.
func (b window) partsFit(name string, wide bool) {
	b.t.Helper()
	b.Wait("every key is large enough to touch, at "+name,
		`[...document.querySelectorAll("#paddy button, .keys-top button, .move")].every(k => {
			const r = k.getBoundingClientRect();
			return r.width >= 44 && r.height >= 44;
		})`)
	b.Wait("nothing overlaps, at "+name, `(() => {
		const parts = document.querySelectorAll(".word, .holder, .handset, .notebook, .field");
		const boxes = [...parts].map(e => e.getBoundingClientRect());
		const apart = (a, b) => a.right <= b.left + 1 || a.bottom <= b.top + 1;
		return boxes.every((a, i) => boxes.every((b, j) => i === j || apart(a, b) || apart(b, a)));
	})()`)
	b.Wait("a picture that slides says so, at "+name, `(() => {
		const signs = [...document.querySelectorAll(".slide")];
		return signs.length > 0 && signs.every((sign) => {
			const picture = sign.nextElementSibling;
			const slides = picture.scrollWidth > picture.clientWidth;
			return slides === (sign.getClientRects().length > 0) && slides === (innerWidth === 360);
		});
	})()`)
	if wide {
		b.Wait("handset and texts end on the screen, at "+name, `(() => {
			document.querySelector(".entry-line").before(...Array.from({ length: 9 }, () =>
				document.querySelector(".entry-line").cloneNode(true)));
			return [".handset", ".notebook", ".circle .season-picture"].every(
				(s) => [...document.querySelectorAll(s)].every((e) => e.getBoundingClientRect().bottom <= innerHeight));
		})()`)
	}
}
