package practice

import (
	"testing"
)

// No page of practice breaks a rule of accessibility: the list of phones, the phone of a grower during a call, that of
// a member of a circle, and the comparison of seasons.
func TestPracticeIsAccessible(t *testing.T) {
	r := openTest(t)
	b := openBrowser(t) // closes before the service, which its pages follow
	for path, name := range map[string]string{
		"/practice/": "the list of phones", "/practice/worth": "the comparison of seasons",
		"/practice/phone/447700900011": "the phone of a member of a circle",
	} {
		b.Show(r.url+path, 360, 740, "main")
		b.Audit(name)
	}
	b.Show(r.url+"/practice/phone/447700900001", 1280, 800, "#paddy")
	b.Click("#others summary")
	b.Click("#again summary")
	b.answer(b.keypad, "*123#", "")
	b.Audit("a call")
}
