package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"
	_ "time/tzdata" // the growers' place has a time zone, and the machine may know none

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"

	"rowbell/cmd/rowbell-load/season"
	"rowbell/cmd/rowbell-load/stack"
)

// seasonCmd is rowbell-load season.
type seasonCmd struct {
	runFlags
	Growers int    `default:"20000" help:"How many growers." placeholder:"N"`
	Days    int    `default:"120" help:"How many days; growers register in the first three weeks." placeholder:"N"`
	Seed    uint64 `default:"1" help:"Of everything that is drawn."`
}

// Run plays the season.
func (c *seasonCmd) Run(w *world) error {
	return c.in(w, stack.Options{}, func(s stack.Options) (result, error) {
		step := (&progress{out: w.err}).step
		r, err := season.Play(w.ctx, season.Options{Growers: c.Growers, Days: c.Days, Seed: c.Seed, Program: s.Program,
			Folder: s.Folder, Now: time.Now, Step: step})
		return result{r, r.Found}, err
	})
}

// progress tells how far a run is whose parts are counted: on a terminal with a bar, otherwise by a line now and then.
type progress struct {
	out io.Writer

	mu    sync.Mutex
	what  string
	bar   *progressbar.ProgressBar // nil if out is no terminal
	shown time.Time
}

// step shows that so many parts of some work are done.
func (p *progress) step(what string, done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.what != what {
		p.begin(what, total)
	}
	if p.bar != nil {
		_ = p.bar.Set(done)
	} else if now := time.Now(); now.Sub(p.shown) >= watchLines {
		p.shown = now
		fmt.Fprintf(p.out, "%s: %d of %d\n", what, done, total)
	}
}

// begin begins to show another work.
func (p *progress) begin(what string, total int) {
	p.what, p.shown = what, time.Now()
	if p.bar != nil {
		_ = p.bar.Clear()
	}
	if file, ok := p.out.(*os.File); ok && isatty.IsTerminal(file.Fd()) {
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(file), progressbar.OptionSetDescription(what),
			progressbar.OptionSetPredictTime(false), progressbar.OptionSetElapsedTime(false),
			progressbar.OptionSetWidth(30), progressbar.OptionClearOnFinish(), progressbar.OptionShowCount())
	}
}
