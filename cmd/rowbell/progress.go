package main

import (
	"fmt"
	"io"
	"os"
	"sync/atomic"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"
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
	bar         *progressbar.ProgressBar
	barTotal    int64
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
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}

// newBar returns a progress bar or, for an unknown total, a spinner with the elapsed time.
func (p *progress) newBar(total int64) *progressbar.ProgressBar {
	options := []progressbar.Option{progressbar.OptionSetWriter(p.out), progressbar.OptionSetDescription(p.what),
		progressbar.OptionSetPredictTime(false), progressbar.OptionSetElapsedTime(total == 0),
		progressbar.OptionSetSpinnerChangeInterval(0), progressbar.OptionSetWidth(30),
		progressbar.OptionClearOnFinish()}
	if total == 0 {
		return progressbar.NewOptions64(-1, options...)
	}
	return progressbar.NewOptions64(total, append(options, progressbar.OptionShowCount())...)
}

func (p *progress) show(now time.Time) {
	if now.Sub(p.begun) < progressAfter {
		return
	}
	done, total := p.done.Load(), p.total.Load()
	if p.terminal {
		if p.bar == nil || p.barTotal != total {
			p.bar, p.barTotal = p.newBar(total), total
		}
		_ = p.bar.Set64(done)
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
