package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/mattn/go-isatty"

	"rowbell/cmd/rowbell-load/calls"
	"rowbell/cmd/rowbell-load/stack"
)

// callsCmd is rowbell-load calls.
type callsCmd struct {
	stackFlags
	For      time.Duration `default:"60s" help:"How long growers come: up to 10h."`
	Rate     float64       `default:"100" help:"Calls a second outside of the burst." placeholder:"N"`
	Burst    float64       `default:"5" help:"How many times the rate comes at its height." placeholder:"N"`
	Think    time.Duration `default:"100ms" help:"Between an answer and the grower's next call."`
	Patience time.Duration `default:"30s" help:"How long a grower waits for a text."`
	GiveUp   time.Duration `default:"5m" help:"End the run when a call was not acknowledged for so long."`
	Seed     uint64        `default:"1" help:"Of everything that is drawn."`

	Kill       time.Duration `help:"Kill a process this often (SIGKILL) and start it again." placeholder:"TIME"`
	Suspend    time.Duration `help:"Suspend a process this often (SIGSTOP)." placeholder:"TIME"`
	SuspendFor time.Duration `default:"5s" help:"For how long."`
	Disturb    string        `help:"Run a line of the shell, such as one that kills the server." placeholder:"LINE"`
	Every      time.Duration `default:"30s" help:"How often --disturb is run."`
}

// stackFlags are the flags of commands that may load several processes.
type stackFlags struct {
	runFlags
	DB        string `name:"db" help:"An empty database on a server of this machine (default: a file)."`
	Processes int    `default:"1" help:"How many processes share the records on a server." placeholder:"N"`
}

// runFlags are the flags of all commands.
type runFlags struct {
	Program string `help:"The rowbell to load (default: beside this program)." placeholder:"FILE"`
	Folder  string `help:"For records and logs (default: a new one, removed at the end)."`
	JSON    string `name:"json" help:"Write the result to a file, as JSON." placeholder:"FILE"`
}

// errWrong says that the result names something wrong.
var errWrong = errors.New("something is wrong: see above")

// Run loads the service.
func (c *callsCmd) Run(w *world) error {
	switch {
	case c.For <= 0 || c.For > calls.Longest:
		return fmt.Errorf("--for %v is not between 0 and %v", c.For, calls.Longest)
	case c.Rate <= 0 || c.Burst < 1:
		return fmt.Errorf("--rate %g must be above 0, --burst %g at least 1", c.Rate, c.Burst)
	case c.GiveUp <= 0:
		return fmt.Errorf("--give-up %v must be above 0", c.GiveUp)
	}
	o := calls.Options{For: c.For, Rate: c.Rate, Burst: c.Burst, Think: c.Think, Patience: c.Patience,
		GiveUp: c.GiveUp, Seed: c.Seed,
		Disturb: calls.Disturb{Kill: c.Kill, Suspend: c.Suspend, SuspendFor: c.SuspendFor, Command: c.Disturb}}
	if c.Disturb != "" {
		o.Disturb.Run = c.Every
	}
	o.Watch = watch(w.err)
	return c.in(w, stack.Options{DB: c.DB, Processes: c.Processes}, func(s stack.Options) (result, error) {
		o.Stack = s
		r, err := calls.Run(w.ctx, o)
		return result{r, r.NFaults}, err
	})
}

// result is what a command prints.
type result struct {
	of interface{ Print(io.Writer) }

	wrong int
}

// in runs a load in a folder, which is removed if nothing is wrong, and prints the result.
func (f *runFlags) in(w *world, o stack.Options, load func(stack.Options) (result, error)) error {
	made, err := f.find(&o)
	if err != nil {
		return err
	}
	r, err := load(o)
	if r.of != nil && (err == nil || r.wrong > 0) {
		r.of.Print(w.out)
		if f.JSON != "" {
			err = cmp.Or(err, writeJSON(f.JSON, r.of))
		}
	}
	if err == nil && r.wrong > 0 {
		err = errWrong
	}
	if err != nil || !made {
		fmt.Fprintf(w.err, "records and logs: %s\n", o.Folder)
		return err
	}
	return os.RemoveAll(o.Folder)
}

// find fills in the program and the folder; made says that the folder is new.
func (f *runFlags) find(o *stack.Options) (made bool, err error) {
	if o.Program, err = f.program(); err != nil {
		return false, err
	}
	if f.Folder == "" {
		o.Folder, err = os.MkdirTemp("", "rowbell-load-")
		return true, err
	}
	if o.Folder, err = filepath.Abs(f.Folder); err != nil {
		return false, err
	}
	return false, newFolder(o.Folder)
}

// newFolder makes a folder. One that holds something is refused: it may have the records of real growers.
func newFolder(path string) error {
	if err := os.MkdirAll(path, 0o700); err != nil {
		return err
	}
	entries, err := os.ReadDir(path)
	if err == nil && len(entries) > 0 {
		err = fmt.Errorf("--folder %s is not empty: give a new one, because growers are invented in it", path)
	}
	return err
}

func (f *runFlags) program() (string, error) {
	if f.Program != "" {
		return filepath.Abs(f.Program)
	}
	if own, err := os.Executable(); err == nil {
		beside := filepath.Join(filepath.Dir(own), "rowbell")
		if _, err := os.Stat(beside); err == nil {
			return beside, nil
		}
	}
	path, err := exec.LookPath("rowbell")
	if err != nil {
		return "", errors.New("there is no rowbell beside this program or in the PATH: give --program")
	}
	return path, nil
}

func writeJSON(path string, r any) error {
	octets, err := json.MarshalIndent(r, "", "  ")
	return cmp.Or(err, os.WriteFile(path, append(octets, '\n'), 0o644))
}

// watchLines is how often a line tells how far a run is, where it is not shown on a terminal.
const watchLines = 10 * time.Second

// watch returns what tells how far a run is: on a terminal one line that changes, otherwise a line now and then.
func watch(errs io.Writer) func(calls.Status) {
	file, ok := errs.(*os.File)
	terminal := ok && isatty.IsTerminal(file.Fd())
	var told time.Duration
	return func(s calls.Status) {
		line := fmt.Sprintf("%s: %d calls acknowledged, %d growers at it, %d wrong", s.Elapsed.Round(time.Second),
			s.Calls, s.Waiting, s.Faults)
		switch {
		case terminal:
			fmt.Fprintf(errs, "\r\x1b[K%s", line)
		case s.Elapsed-told >= watchLines:
			told = s.Elapsed
			fmt.Fprintln(errs, line)
		}
	}
}
