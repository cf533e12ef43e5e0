package handset

import (
	"fmt"
	"strings"
	"testing"
)

func TestWorth(t *testing.T) {
	room, _, _ := newTestRoom(t)
	h := Page(room)
	for _, c := range []struct {
		name, query string
		want        []string
	}{
		{"the way in", "", []string{"What the bell is worth", "800 plots, usual growers, a normal year", "Where the bell does not help", "promises a yield", "% by habit", "% with the bell", "Texts a plot", "A place that learns", "chance that a text that asks is answered with a lie"}},
		{"honest growers", "?growers=honest&seed=3", []string{"800 plots, honest growers", "Here the bell helps.", `value="3"`}},
		{"sloppy growers are not helped", "?growers=sloppy", []string{"Here the bell does not help"}},
		{"weeds that are early", "?growers=usual&year=dry&rate=1.2", []string{"a dry year", "1.18"}},
		{"no such growers", "?growers=<b>", []string{"There are no growers called &#34;&lt;b&gt;&#34;."}},
		{"no such year", "?year=snow", []string{"There is no year called"}},
		{"no such pace", "?rate=9", []string{"Weeds go 0.7 to 1.4 times as fast"}},
		{"not a number", "?rate=NaN", []string{"Weeds go 0.7 to 1.4 times as fast"}},
		{"no such chance", "?seed=-1", []string{"Chance begins at a whole number"}},
	} {
		code, body := visit(t, h, "GET", "/practice/worth"+c.query, nil)
		if code != 200 {
			t.Errorf("%s: %d", c.name, code)
		}
		for _, want := range c.want {
			if !strings.Contains(body, want) {
				t.Errorf("%s: no %q in\n%s", c.name, want, body)
			}
		}
		if strings.Contains(body, "style=") || strings.Contains(body, "<b>\"") {
			t.Errorf("%s: a style attribute, or what was typed as it was", c.name)
		}
	}
	_, once := visit(t, h, "GET", "/practice/worth?growers=lying&year=wet&seed=5", nil)
	_, again := visit(t, h, "GET", "/practice/worth?growers=lying&year=wet&seed=5", nil)
	if once != again {
		t.Error("the same seed played another season")
	}
}

func TestShare(t *testing.T) {
	for _, c := range []struct {
		n, of, percent int
		words          string
	}{{0, 0, 0, "none"}, {1, 2, 50, "1 of 2"}, {2, 3, 67, "2 of 3"}, {600, 600, 100, "600 of 600"}} {
		if got := share(c.n, c.of); got.Percent != c.percent || got.Words != c.words {
			t.Errorf("%d of %d: %+v", c.n, c.of, got)
		}
	}
	if worthWidth(100) != worthFull || fmt.Sprint(worthRow(0), worthWidth(0)) != "0 0" {
		t.Error("bars do not begin and end where they should")
	}
}
