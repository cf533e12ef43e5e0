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

// inbox is the network to which the service pushes: it accepts texts, and drops each text whose idempotency key it
// has seen.
type inbox struct {
	mu   sync.Mutex
	seen map[string]int      // requests with an idempotency key
	text map[string][]string // by phone: the texts that no test has taken yet
	all  int                 // requests
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

// take removes the texts to a phone from the inbox.
func (i *inbox) take(phone string) []string {
	i.mu.Lock()
	defer i.mu.Unlock()
	t := i.text[phone]
	delete(i.text, phone)
	return t
}

// process runs the built binary in a folder of its own.
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
	wrap      []string // the beginning of a command line that ends with the binary
	cmd       *exec.Cmd
	base      string
	log       *lockedBuffer
	http      *http.Client
	drained   <-chan struct{} // closed once the whole log was read
}

const testToken = "token-of-the-test-gateway"

// startProcess starts the service, its clock at the instant. It offers the languages to growers, or only English.
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
	p := bareProcess(t)
	p.languages, p.token = languages, testToken
	p.inbox = &inbox{seen: map[string]int{}, text: map[string][]string{}}
	p.push = httptest.NewServer(p.inbox)
	t.Cleanup(p.push.Close)
	return p
}

// bareProcess prepares a process without a token and without a network to push to.
func bareProcess(t testing.TB) *process {
	p := &process{t: t, dir: t.TempDir(), log: &lockedBuffer{}, http: &http.Client{Timeout: requestTimeout}}
	t.Cleanup(func() { p.kill(); assertNoNumbers(t, p.log.String()) })
	return p
}

// requestTimeout is how long a test waits for an answer of the service: far longer than a loaded machine takes.
const requestTimeout = 5 * time.Minute

// start runs the service with the network of the test, its clock at the instant.
func (p *process) start(at time.Time) {
	p.t.Helper()
	common, err := os.ReadFile("../../testdata/dialogues/rowbell.toml")
	must(p.t, err)
	file := filepath.Join(p.dir, "rowbell.toml")
	offered, err := json.Marshal(p.languages) // TOML writes a list of strings as JSON does
	must(p.t, err)
	must(p.t, os.WriteFile(file, fmt.Appendf(common, "\n[texts]\nlanguages = %s\n", offered), 0o600))
	p.run("serve", "--log-level", "debug", "--listen", "127.0.0.1:0", "--config", file, "--db",
		cmp.Or(p.db, config.DefaultDB), "--test-clock", at.Format(time.RFC3339))
}

// run starts the binary in the folder of the process and waits until it logs the address on which it listens.
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
	must(p.t, err)
	p.cmd.Stdout = p.log
	must(p.t, p.cmd.Start())
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

// stop ends the process with SIGTERM, as a service manager does, and checks that it exits with code 0.
func (p *process) stop() {
	p.t.Helper()
	if p.cmd == nil {
		return
	}
	must(p.t, p.cmd.Process.Signal(syscall.SIGTERM))
	<-p.drained // before Wait, which closes the pipe and so loses unread lines
	if err := p.cmd.Wait(); err != nil {
		p.t.Fatalf("the service did not stop cleanly: %v\n%s", err, p.log.String())
	}
	p.cmd = nil
}

// kill ends the process with SIGKILL, as a power cut does.
func (p *process) kill() {
	if p.cmd == nil {
		return
	}
	p.cmd.Process.Kill()
	<-p.drained
	p.cmd.Wait()
	p.cmd = nil
}

// post sends a callback and checks the status of the answer.
func (p *process) post(call string, body map[string]any, status int) []byte {
	p.t.Helper()
	b, got, err := p.try(call, body)
	must(p.t, err)
	if got != status {
		p.t.Fatalf("POST %s: %d, want %d: %s\n%s", call, got, status, b, p.log.String())
	}
	return b
}

// try sends a callback of the network, or moves the clock where call is "clock".
func (p *process) try(call string, body map[string]any) (answer []byte, status int, err error) {
	answer, resp, err := p.send(call, body)
	if err != nil {
		return nil, 0, err
	}
	return answer, resp.StatusCode, nil
}

// send is try with the whole response, whose body has been read.
func (p *process) send(call string, body map[string]any) ([]byte, *http.Response, error) {
	b, err := json.Marshal(body)
	if err != nil {
		return nil, nil, err
	}
	path := "/in/local/" + call
	if call == "clock" {
		path = "/test/clock"
	}
	req, err := http.NewRequest(http.MethodPost, p.base+path, bytes.NewReader(b))
	if err != nil {
		return nil, nil, err
	}
	req.Header.Set("Authorization", "Bearer "+p.token)
	req.Header.Set("Content-Type", "application/json")
	resp, err := p.http.Do(req)
	if err != nil {
		return nil, nil, err
	}
	defer resp.Body.Close()
	b, err = io.ReadAll(resp.Body)
	return b, resp, err
}

// set moves the clock of the service. The bell and the push worker have run when set returns.
func (p *process) set(at time.Time) {
	p.t.Helper()
	p.clock(map[string]any{"set": at.Format(time.RFC3339)})
}

// settle runs the bell and the push worker without moving the clock.
func (p *process) settle() {
	p.t.Helper()
	p.clock(map[string]any{"advance": "0s"})
}

func (p *process) clock(change map[string]any) {
	p.t.Helper()
	if b, status, err := p.try("clock", change); err != nil || status/100 != 2 {
		p.t.Fatalf("%v of the clock: %v, %d %s", change, err, status, b)
	}
}

// text sends a text from the n-th number and checks the status of the answer.
func (p *process) text(n, status int) {
	p.t.Helper()
	p.post("sms", map[string]any{"id": fmt.Sprint(n), "phone": fictional(n).E164(), "text": "menu"}, status)
}

// dial begins a session from the n-th number, checks the status of the answer and returns the answer.
func (p *process) dial(n, status int) []byte {
	p.t.Helper()
	return p.post("ussd", map[string]any{"phone": fictional(n).E164(), "session": "s", "step": 0, "event": "begin",
		"dialled": "*123#"}, status)
}

// get returns the status and the body of a page of the service.
func (p *process) get(path string) (status int, body string) {
	p.t.Helper()
	resp, err := p.http.Get(p.base + path)
	must(p.t, err)
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	must(p.t, err)
	return resp.StatusCode, string(b)
}

// binary builds rowbell once for all tests, and returns the path of the binary.
func binary(t testing.TB) string {
	t.Helper()
	path, err := buildOnce()
	must(t, err)
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

// phoneNumbers matches a phone number that is not masked.
var phoneNumbers = regexp.MustCompile(`\+?447700900\d{3}`)

// assertNoNumbers checks that a log or the output of a command has no phone number in clear.
func assertNoNumbers(t testing.TB, printed string) {
	t.Helper()
	if found := phoneNumbers.FindString(printed); found != "" {
		t.Errorf("the phone number %s is printed", found)
	}
	if printed == "" {
		t.Error("nothing was printed, so nothing was checked")
	}
}

// lockedBuffer collects the output of a process; a test may read it while the process writes.
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
