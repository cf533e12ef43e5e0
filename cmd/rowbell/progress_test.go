package main

import (
	"strings"
	"testing"
	"time"
)

// shownAt returns the display of progress, updated at these seconds after the start. One step is finished each second.
func shownAt(terminal bool, total int, seconds ...int) string {
	begun := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	var out strings.Builder
	p := &progress{out: &out, what: "counting", terminal: terminal, begun: begun, shown: begun}
	for _, s := range seconds {
		p.step(s, total)
		p.show(begun.Add(time.Duration(s) * time.Second))
	}
	return out.String()
}

func TestProgressInLines(t *testing.T) {
	for want, got := range map[string]string{
		"":                shownAt(false, 40, 0, 1, 9), // in the first ten seconds nothing is printed
		"counting: 10s\n": shownAt(false, 0, 10),
		"counting: 10 of 40, 10s\ncounting: 20 of 40, 20s\n": shownAt(false, 40, 9, 10, 12, 20),
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestProgressOnATerminal(t *testing.T) {
	if got := shownAt(true, 40, 0, 1); got != "" {
		t.Errorf("a fast run shows %q", got)
	}
	got := shownAt(true, 40, 1, 2, 20)
	if !strings.Contains(got, "\r") || !strings.Contains(got, "counting  50%") || !strings.Contains(got, "(20/40)") {
		t.Errorf("%q", got)
	}
	if got := shownAt(true, 0, 3); !strings.Contains(got, "counting") || strings.Contains(got, "%") {
		t.Errorf("%q", got)
	}
}

// If standard error is a buffer, the method progress returns nil, on which step and stop do nothing.
func TestNoProgress(t *testing.T) {
	p := (&world{err: new(strings.Builder)}).progress("counting")
	if p != nil {
		t.Fatal("progress into a buffer")
	}
	p.step(1, 2)
	p.stop()
}
