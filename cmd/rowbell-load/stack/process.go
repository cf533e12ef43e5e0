package stack

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// process is one service; it can be killed and started again.
type process struct {
	name   string // the same at each start
	config string // path of its configuration
	log    string // path of the file that gets what it prints

	mu      sync.Mutex
	cmd     *exec.Cmd
	at      string        // URL, "" before the first start
	drained chan struct{} // closed when all that it printed was read
}

func newProcess(folder string, no int) *process {
	return &process{name: fmt.Sprintf("load-%d", no), config: filepath.Join(folder, fmt.Sprintf("rowbell-%d.toml", no)),
		log: filepath.Join(folder, fmt.Sprintf("log-%d.txt", no))}
}

// best writes what it can: a log that cannot be written, on a full disk, must not hold up the process.
type best struct{ w io.Writer }

func (b best) Write(octets []byte) (int, error) {
	_, _ = b.w.Write(octets)
	return len(octets), nil
}

// startPatience is how long a start may take: behind a database that is being recovered it is long.
const startPatience = 2 * time.Minute

// Start starts the i-th process, and returns when it listens.
func (s *Stack) Start(ctx context.Context, i int) error {
	p := s.processes[i]
	// The line with the address is at the level info.
	args := []string{"serve", "--listen", "127.0.0.1:0", "--config", p.config, "--log-level", "info"}
	if !s.o.TestClock.IsZero() {
		args = append(args, "--test-clock", s.clock().UTC().Format(time.RFC3339))
	}
	cmd := exec.Command(s.o.Program, args...)
	cmd.Dir = s.o.Folder
	cmd.Env = append(os.Environ(), "ROWBELL_LOAD_TOKEN="+token)
	out, err := cmd.StderrPipe()
	if err != nil {
		return err
	}
	log, err := os.OpenFile(p.log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return errors.Join(err, log.Close())
	}
	listens, drained := make(chan string, 1), make(chan struct{})
	go func() {
		defer close(drained)
		defer log.Close()
		defer close(listens)
		lines := bufio.NewReader(io.TeeReader(out, best{log}))
		for {
			line, err := lines.ReadBytes('\n')
			var said struct{ Listening string }
			if json.Unmarshal(line, &said) == nil && said.Listening != "" {
				listens <- said.Listening
			}
			if err != nil {
				return
			}
		}
	}()
	p.mu.Lock()
	p.cmd, p.drained = cmd, drained
	p.mu.Unlock()
	select {
	case at, ok := <-listens:
		if !ok {
			_ = p.kill()
			return fmt.Errorf("%s did not start: see %s", p.name, p.log)
		}
		p.mu.Lock()
		p.at = "http://" + at
		p.mu.Unlock()
		return nil
	case <-time.After(startPatience):
		return errors.Join(fmt.Errorf("%s does not listen after %v: see %s", p.name, startPatience, p.log), p.kill())
	case <-ctx.Done():
		return errors.Join(ctx.Err(), p.kill())
	}
}

func (p *process) running() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.cmd != nil && p.at != ""
}

func (p *process) base() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.at
}

// Kill ends the i-th process with SIGKILL.
func (s *Stack) Kill(i int) error { return s.processes[i].kill() }

func (p *process) kill() error {
	p.mu.Lock()
	cmd, drained := p.cmd, p.drained
	p.cmd = nil
	p.mu.Unlock()
	if cmd == nil {
		return nil
	}
	if err := cmd.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
		return err
	}
	<-drained
	_ = cmd.Wait() // its error is that it was killed
	return nil
}

// Suspend stops the i-th process with SIGSTOP: it holds its connections and does nothing. Calls still go to it, as a
// network does not know.
func (s *Stack) Suspend(i int) error { return s.processes[i].signal(syscall.SIGSTOP) }

// Resume lets a suspended process go on.
func (s *Stack) Resume(i int) error { return s.processes[i].signal(syscall.SIGCONT) }

func (p *process) signal(sig syscall.Signal) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.cmd == nil {
		return nil
	}
	return p.cmd.Process.Signal(sig)
}

// stop ends the process with SIGTERM. Its exit code must be 0.
func (p *process) stop() error {
	p.mu.Lock()
	cmd, drained := p.cmd, p.drained
	p.cmd = nil
	p.mu.Unlock()
	if cmd == nil {
		return nil
	}
	if err := errors.Join(cmd.Process.Signal(syscall.SIGCONT), cmd.Process.Signal(syscall.SIGTERM)); err != nil {
		return err
	}
	<-drained
	if err := cmd.Wait(); err != nil {
		return fmt.Errorf("%s did not stop cleanly: %w: see %s", p.name, err, p.log)
	}
	return nil
}

// Memory returns the resident memory of the i-th process now and at most since its start, in bytes.
func (s *Stack) Memory(i int) (now, most int64, err error) {
	p := s.processes[i]
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.cmd == nil {
		return 0, 0, nil
	}
	page, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	if err != nil {
		return 0, 0, err
	}
	for line := range strings.Lines(string(page)) {
		name, rest, _ := strings.Cut(line, ":")
		kb, err := strconv.ParseInt(strings.TrimSuffix(strings.TrimSpace(rest), " kB"), 10, 64)
		switch {
		case err != nil:
		case name == "VmRSS":
			now = kb << 10
		case name == "VmHWM":
			most = kb << 10
		}
	}
	return now, most, nil
}
