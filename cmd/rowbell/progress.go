package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"github.com/mattn/go-isatty"
)

// Progress is shown after progressAfter: on a terminal as a bar, redrawn every progressTicks, otherwise as a line every
// progressLines.
const (
	progressAfter = 2 * time.Second
	progressLines = 10 * time.Second
	progressTicks = 200 * time.Millisecond
)

// progress shows on standard error how far a long command has come. The command calls step, from any goroutine, and
// then stop. On a nil *progress, step and stop do nothing.
type progress struct {
	out         io.Writer
	what        string // name of the work, for the display
	terminal    bool
	begun       time.Time
	shown       time.Time
	done, total atomic.Int64 // number of finished and of all parts of the work; total is 0 if unknown
	drawn       bool         // a bar stands on the terminal
	quit        chan struct{}
	ended       chan struct{}
}

// progress starts the display if standard error is a file or a terminal; otherwise it returns nil.
func (w *world) progress(what string) *progress {
	file, ok := w.err.(*os.File)
	if !ok {
		return nil
	}
	p := &progress{out: file, what: what, terminal: isatty.IsTerminal(file.Fd()), begun: w.now(), shown: w.now(),
		quit: make(chan struct{}), ended: make(chan struct{})}
	go func() {
		defer close(p.ended)
		ticks := time.NewTicker(progressTicks)
		defer ticks.Stop()
		for {
			select {
			case <-ticks.C:
				p.show(w.now())
			case <-p.quit:
				return
			}
		}
	}()
	return p
}

// step records how many parts are finished.
func (p *progress) step(done, total int) {
	if p != nil {
		p.done.Store(int64(done))
		p.total.Store(int64(total))
	}
}

// stop ends the display and removes the bar from the terminal.
func (p *progress) stop() {
	if p == nil {
		return
	}
	close(p.quit)
	<-p.ended
	if p.drawn {
		fmt.Fprint(p.out, clearLine)
	}
}

// barWidth is the width of the bar in characters.
const barWidth = 30

// clearLine goes to the start of the terminal's line and clears it (ECMA-48: CR, and EL with 0).
const clearLine = "\r\x1b[K"

// draw draws the bar or, for an unknown total, the elapsed time.
func (p *progress) draw(done, total int64, elapsed time.Duration) {
	p.drawn = true
	if total == 0 {
		fmt.Fprintf(p.out, "%s%s  %s", clearLine, p.what, elapsed.Round(time.Second))
		return
	}
	full := strings.Repeat("#", int(barWidth*done/total))
	fmt.Fprintf(p.out, "%s%s %3d%% |%-*s| (%d/%d)", clearLine, p.what, 100*done/total, barWidth, full, done, total)
}

func (p *progress) show(now time.Time) {
	if now.Sub(p.begun) < progressAfter {
		return
	}
	done, total := p.done.Load(), p.total.Load()
	if p.terminal {
		p.draw(done, total, now.Sub(p.begun))
		return
	}
	if now.Sub(p.shown) < progressLines {
		return
	}
	p.shown = now
	if total > 0 {
		fmt.Fprintf(p.out, "%s: %d of %d, %s\n", p.what, done, total, now.Sub(p.begun).Round(time.Second))
	} else {
		fmt.Fprintf(p.out, "%s: %s\n", p.what, now.Sub(p.begun).Round(time.Second))
	}
}
