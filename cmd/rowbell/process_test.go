package main

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// inbox is the network's side of pushing: it accepts texts and drops those that
// repeat an idempotency key.
type inbox struct {
	mu   sync.Mutex
	seen map[string]int
	text map[string][]string
	all  int
}

func (i *inbox) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m struct{ ID, To, Text string }
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	i.mu.Lock()
	defer i.mu.Unlock()
	key := r.Header.Get("Idempotency-Key")
	i.all++
	if i.seen[key]++; i.seen[key] == 1 {
		i.text[m.To] = append(i.text[m.To], m.Text)
	}
	w.Header().Set("Content-Type", "application/json")
	fmt.Fprintf(w, `{"id":"net-%d"}`, i.all)
}

func (i *inbox) take(phone string) []string {
	i.mu.Lock()
	defer i.mu.Unlock()
	t := i.text[phone]
	delete(i.text, phone)
	return t
}

// process is the built binary as a process of its own.
type process struct {
	t         testing.TB
	dir       string
	languages []string // offered to growers
	env       []string // added to the environment of the test
	token     string
	inbox     *inbox
	push      *httptest.Server
	pushURL   string   // replaces the URL of push
	db        string   // the database file, if not the default
	wrap      []string // a command that runs the binary
	cmd       *exec.Cmd
	base      string
	log       *lockedBuffer
	http      *http.Client
	drained   <-chan struct{} // closed once its whole log was read
}

const testToken = "token-of-the-test-gateway"

// startProcess starts the service. It offers the languages, or only English.
func startProcess(t testing.TB, at time.Time, languages ...string) *process {
	t.Helper()
	p := newProcess(t, languages...)
	p.start(at)
	return p
}

// newProcess prepares a service that is not started yet.
func newProcess(t testing.TB, languages ...string) *process {
	t.Helper()
	if len(languages) == 0 {
		languages = []string{"en"}
	}
	p := &process{t: t, languages: languages, dir: t.TempDir(), token: testToken, log: &lockedBuffer{},
		http:  &http.Client{Timeout: 30 * time.Second},
		inbox: &inbox{seen: map[string]int{}, text: map[string][]string{}}}
	p.push = httptest.NewServer(p.inbox)
	t.Cleanup(p.push.Close)
	t.Cleanup(func() { p.kill(); assertNoNumbers(t, p.log.String()) })
	return p
}

// start runs the service with the network of the test, its clock at the instant.
func (p *process) start(at time.Time) {
	p.t.Helper()
	common, err := os.ReadFile("../../testdata/dialogues/rowbell.toml")
	if err != nil {
		p.t.Fatal(err)
	}
	file := filepath.Join(p.dir, "rowbell.toml")
	offered, err := json.Marshal(p.languages) // as TOML writes a list too
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(file, fmt.Appendf(common, "\n[texts]\nlanguages = %s\n", offered), 0o600); err != nil {
		p.t.Fatal(err)
	}
	p.run("serve", "--log-level", "debug", "--listen", "127.0.0.1:0", "--config", file, "--db",
		cmp.Or(p.db, config.DefaultDB), "--test-clock", at.Format(time.RFC3339))
}

// run starts the binary in the folder of the process and waits until it logs the
// address on which it listens.
func (p *process) run(args ...string) {
	p.t.Helper()
	line := slices.Concat(p.wrap, []string{binary(p.t)}, args)
	p.cmd = exec.Command(line[0], line[1:]...)
	p.cmd.Dir = p.dir
	p.cmd.Env = append(os.Environ(), p.env...)
	if p.token != "" {
		p.cmd.Env = append(p.cmd.Env, config.EnvToken+"="+p.token)
	}
	if p.push != nil {
		p.cmd.Env = append(p.cmd.Env, config.EnvPush+"="+cmp.Or(p.pushURL, p.push.URL))
	}
	out, err := p.cmd.StderrPipe()
	if err != nil {
		p.t.Fatal(err)
	}
	p.cmd.Stdout = p.log
	if err := p.cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	ready := make(chan string, 1)
	drained := make(chan struct{})
	p.drained = drained
	go func() {
		defer close(drained)
		lines := bufio.NewScanner(io.TeeReader(out, p.log))
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			var l struct{ Listening string }
			if json.Unmarshal(lines.Bytes(), &l) == nil && l.Listening != "" {
				ready <- l.Listening
			}
		}
		close(ready)
	}()
	addr, ok := <-ready
	if !ok {
		p.t.Fatalf("the service did not start:\n%s", p.log.String())
	}
	p.base = "http://" + addr
}

func (p *process) stop() {
	p.t.Helper()
	if p.cmd == nil {
		return
	}
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		p.t.Fatal(err)
	}
	<-p.drained // Wait closes the pipe, so that unread lines would be lost
	if err := p.cmd.Wait(); err != nil {
		p.t.Fatalf("the service did not stop cleanly: %v\n%s", err, p.log.String())
	}
	p.cmd = nil
}

func (p *process) kill() {
	if p.cmd == nil {
		return
	}
	p.cmd.Process.Kill()
	<-p.drained
	p.cmd.Wait()
	p.cmd = nil
}

func (p *process) post(call string, body map[string]any, status int) []byte {
	p.t.Helper()
	b, got, err := p.try(call, body)
	if err != nil {
		p.t.Fatal(err)
	}
	if got != status {
		p.t.Fatalf("POST %s: %d, want %d: %s\n%s", call, got, status, b, p.log.String())
	}
	return b
}

func (p *process) try(call string, body map[string]any) ([]byte, int, error) {
	b, err := json.Marshal(body)
	if err != nil {
		return nil, 0, err
	}
	path := "/in/local/" + call
	if call == "clock" {
		path = "/test/clock"
	}
	req, err := http.NewRequest(http.MethodPost, p.base+path, bytes.NewReader(b))
	if err != nil {
		return nil, 0, err
	}
	req.Header.Set("Authorization", "Bearer "+p.token)
	req.Header.Set("Content-Type", "application/json")
	resp, err := p.http.Do(req)
	if err != nil {
		return nil, 0, err
	}
	defer resp.Body.Close()
	b, err = io.ReadAll(resp.Body)
	return b, resp.StatusCode, err
}

// set moves the clock of the service. Bell and push have run when it returns.
func (p *process) set(at time.Time) {
	p.t.Helper()
	b, status, err := p.try("clock", map[string]any{"set": at.Format(time.RFC3339)})
	if err != nil || status/100 != 2 {
		p.t.Fatalf("the clock cannot be set: %v, %d %s", err, status, b)
	}
}

// settle runs bell and push without moving the clock.
func (p *process) settle() {
	p.t.Helper()
	if b, status, err := p.try("clock", map[string]any{"advance": "0s"}); err != nil || status/100 != 2 {
		p.t.Fatalf("the service does not settle: %v, %d %s", err, status, b)
	}
}

// binary builds rowbell once, for all tests that run it as a process.
func binary(t testing.TB) string {
	t.Helper()
	path, err := buildOnce()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

var buildOnce = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "rowbell-test-")
	if err != nil {
		return "", err
	}
	buildDir = dir
	path := filepath.Join(dir, "rowbell")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		return "", errors.New(string(out))
	}
	return path, nil
})

var buildDir string

func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	if buildDir != "" {
		os.RemoveAll(buildDir)
	}
	os.Exit(code)
}

// phoneNumbers matches a number that is not masked.
var phoneNumbers = regexp.MustCompile(`\+?447700900\d{3}`)

func assertNoNumbers(t testing.TB, log string) {
	t.Helper()
	if found := phoneNumbers.FindString(log); found != "" {
		t.Errorf("the log contains the phone number %s", found)
	}
	if len(log) == 0 {
		t.Error("the log is empty: nothing was checked")
	}
}

// lockedBuffer collects a process's output.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
