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
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/testrun"
)

// process is a service that runs as a process of its own, with what a test sends to it and gets from it.
type process struct {
	t         testing.TB
	dir       string
	languages []string // languages that growers can choose
	env       []string // added to the environment variables of the test
	token     string
	inbox     *inbox
	push      *httptest.Server
	network   string   // network that calls; "" = local
	texts     int      // number of texts that says has sent
	pushURL   string   // URL to which texts are pushed, instead of the inbox
	settings  string   // added to the configuration
	db        string   // database file or address; "" = the default
	name      string   // name among the processes that share the records; "" = none is set
	program   string   // path of the binary; "" = that of this version
	wrap      []string // command line to which the path of the binary is appended; empty = run the binary directly
	cmd       *exec.Cmd
	base      string
	log       *lockedBuffer
	http      *http.Client
	drained   <-chan struct{} // closed when the whole log was read
}

const testToken = "token-of-the-test-gateway"

// startProcess starts the service with its clock at the time at. Growers can choose these languages (default: English
// only).
func startProcess(t testing.TB, at time.Time, languages ...string) *process {
	t.Helper()
	p := newProcess(t, languages...)
	p.makeRecords()
	p.start(at)
	return p
}

// makeRecords makes the records before the service starts. A start without a file takes longer.
func (p *process) makeRecords() {
	p.t.Helper()
	testrun.File(p.t, filepath.Join(p.dir, cmp.Or(p.db, config.DefaultDB)), makeRecords)
}

func newProcess(t testing.TB, languages ...string) *process {
	t.Helper()
	if len(languages) == 0 {
		languages = []string{"en"}
	}
	p := bareProcess(t)
	p.languages, p.token = languages, testToken
	p.inbox = newInbox()
	p.push = httptest.NewServer(p.inbox)
	t.Cleanup(p.push.Close)
	return p
}

// bareProcess prepares a process without a token and without a network for texts.
func bareProcess(t testing.TB) *process {
	p := &process{t: t, dir: t.TempDir(), log: newLockedBuffer(), http: &http.Client{Timeout: requestTimeout}}
	t.Cleanup(func() { p.kill(); assertNoNumbers(t, p.log.String()) })
	return p
}

// requestTimeout is how long a test waits for an answer. The service is much faster even on a loaded machine.
const requestTimeout = 5 * time.Minute

// start runs the service with its clock at the time at. Texts are pushed to the inbox or, if set, to pushURL.
func (p *process) start(at time.Time) {
	p.t.Helper()
	settings, tables := p.chosen()
	p.startConfigured(at, settings, tables)
}

// chosen returns what the fields of the process add to the configuration: settings, and tables after them.
func (p *process) chosen() (settings, tables string) {
	p.t.Helper()
	offered, err := json.Marshal(p.languages) // a list of strings is the same in TOML and JSON
	must(p.t, err)
	if store.OnServer(p.db) {
		settings = fmt.Sprintf("db = %q\n", p.db) // for other commands
	}
	if p.name != "" {
		settings += fmt.Sprintf("process = %q\n", p.name)
	}
	return settings, fmt.Sprintf("[texts]\nlanguages = %s\n%s", offered, p.settings)
}

// startConfigured starts the service with the configuration of the dialogues. The settings go before the tables of that
// configuration, and more tables after them.
func (p *process) startConfigured(at time.Time, settings, tables string) {
	p.t.Helper()
	p.run("serve", "--log-level", "debug", "--listen", "127.0.0.1:0", "--config", p.configure(settings, tables), "--db",
		cmp.Or(p.db, config.DefaultDB), "--test-clock", at.Format(time.RFC3339))
}

// configure writes the configuration that startConfigured describes, and returns its file.
func (p *process) configure(settings, tables string) (file string) {
	p.t.Helper()
	common, err := os.ReadFile("../../testdata/dialogues/rowbell.toml")
	must(p.t, err)
	file = filepath.Join(p.dir, config.DefaultFile)
	must(p.t, os.WriteFile(file, []byte(settings+"\n"+string(common)+"\n"+tables), 0o600))
	return file
}

// ownFormat describes networks that speak the project's own format and whose texts go to these URLs.
func ownFormat(urls map[string]string) (tables string) {
	for _, name := range slices.Sorted(maps.Keys(urls)) {
		tables += fmt.Sprintf("[gateways.%s.trust]\nby = \"bearer\"\nsecrets = [\"OWN_FORMAT_SECRET\"]\n"+
			"[gateways.%[1]s.push]\nurl = %q\nidempotent = true\n", name, urls[name])
	}
	return tables
}

// run starts the binary and waits until the log contains the address of the service.
func (p *process) run(args ...string) {
	p.t.Helper()
	program := p.program
	if program == "" {
		program = binary(p.t)
	}
	line := slices.Concat(p.wrap, []string{program}, args)
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
	if !p.listens(out) {
		p.t.Fatalf("the service did not start:\n%s", p.log.String())
	}
}

// listens waits until the log of a service that starts contains its address, and then collects the log until its end.
func (p *process) listens(log io.Reader) bool {
	ready := make(chan string, 1)
	drained := make(chan struct{})
	p.drained = drained
	go func() {
		defer close(drained)
		lines := bufio.NewScanner(io.TeeReader(log, p.log))
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
	p.base = "http://" + addr
	return ok
}

// stop ends the process with SIGTERM. The exit code must be 0.
func (p *process) stop() {
	p.t.Helper()
	if p.cmd == nil {
		return
	}
	must(p.t, p.cmd.Process.Signal(syscall.SIGTERM))
	<-p.drained // read all lines before Wait, which closes the pipe: unread lines would be lost
	if err := p.cmd.Wait(); err != nil {
		p.t.Fatalf("the service did not stop cleanly: %v\n%s", err, p.log.String())
	}
	p.cmd = nil
}

// kill ends the process with SIGKILL, which leaves no time to finish work.
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
	must(p.t, err)
	if got != status {
		p.t.Fatalf("POST %s: %d, want %d: %s\n%s", call, got, status, b, p.log.String())
	}
	return b
}

// try sends a callback of the network. The call "clock" moves the clock of the service.
func (p *process) try(call string, body map[string]any) (answer []byte, status int, err error) {
	answer, resp, err := p.send(call, body)
	if err != nil {
		return nil, 0, err
	}
	return answer, resp.StatusCode, nil
}

// send sends a callback as try does. It returns the body of the response and the response, whose body is closed.
func (p *process) send(call string, body map[string]any) ([]byte, *http.Response, error) {
	b, err := json.Marshal(body)
	if err != nil {
		return nil, nil, err
	}
	path := "/in/" + cmp.Or(p.network, config.LocalGateway) + "/" + call
	switch {
	case call == "clock":
		path = "/test/clock"
	case strings.HasPrefix(call, "/"): // the path of another network
		path = call
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

// set moves the clock. When set returns, all reminders that are due are written and all texts that are due are sent.
func (p *process) set(at time.Time) {
	p.t.Helper()
	p.clock(map[string]any{"set": at.Format(time.RFC3339)})
}

// settle writes the reminders and sends the texts that are due now.
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

// text sends a text from the n-th phone number and checks the status of the answer.
func (p *process) text(n, status int) {
	p.t.Helper()
	p.post("sms", map[string]any{"id": fmt.Sprint(n), "phone": fictional(n).E164(), "text": "menu"}, status)
}

// says sends a text from a sender, and returns the texts that the phone then gets.
func (p *process) says(sender, phone, text string) []string {
	p.t.Helper()
	p.texts++
	p.post("sms", map[string]any{"id": fmt.Sprint("text-", p.texts), "phone": sender, "text": text},
		http.StatusAccepted)
	p.settle()
	return p.inbox.take(phone)
}

// dial begins a USSD session from the n-th phone number, checks the status of the answer and returns its body.
func (p *process) dial(n, status int) []byte {
	p.t.Helper()
	return p.post("ussd", map[string]any{"phone": fictional(n).E164(), "session": "s", "step": 0, "event": "begin",
		"dialled": "*123#"}, status)
}

func (p *process) get(path string) (status int, body string) {
	p.t.Helper()
	resp, err := p.http.Get(p.base + path)
	must(p.t, err)
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	must(p.t, err)
	return resp.StatusCode, string(b)
}

// metric returns the value of a series on /metrics, "" if it is not there.
func (p *process) metric(series string) string {
	p.t.Helper()
	_, page := p.get("/metrics")
	for line := range strings.Lines(page) {
		if value, is := strings.CutPrefix(line, series+" "); is {
			return strings.TrimSpace(value)
		}
	}
	return ""
}

// answersTo counts the texts to each phone in the records of a service that does not run.
func (p *process) answersTo(phones ...store.Phone) (counts []int) {
	p.t.Helper()
	s := openRecords(p.t, filepath.Join(p.dir, cmp.Or(p.db, config.DefaultDB)))
	read(p.t, s, func(tx *store.Tx) error {
		for _, phone := range phones {
			texts, err := tx.Inbox(phone, 0)
			if err != nil {
				return err
			}
			counts = append(counts, len(texts))
		}
		return nil
	})
	must(p.t, s.Close())
	return counts
}

// binary returns the path of the rowbell binary, which is built once.
func binary(t testing.TB) string {
	t.Helper()
	path, err := buildOnce()
	must(t, err)
	return path
}

var buildOnce = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp(testrun.Disk, "rowbell-test-")
	if err != nil {
		return "", err
	}
	buildDir = dir
	path := filepath.Join(dir, "rowbell")
	if out, err := exec.Command("go", "build", "-ldflags", "-s -w", "-o", path, ".").CombinedOutput(); err != nil {
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

// phoneNumbers matches an unmasked phone number of these tests.
var phoneNumbers = regexp.MustCompile(`\+?447700900\d{3}`)

// assertNoNumbers checks that the output contains no unmasked phone number.
func assertNoNumbers(t testing.TB, printed string) {
	t.Helper()
	if found := phoneNumbers.FindString(printed); found != "" {
		t.Errorf("the phone number %s is printed", found)
	}
	if printed == "" {
		t.Error("nothing was printed, so nothing was checked")
	}
}

// lockedBuffer collects the output of a process, also while a test reads it.
type lockedBuffer struct {
	mu      sync.Mutex
	b       bytes.Buffer
	written *sync.Cond // of mu
}

func newLockedBuffer() *lockedBuffer {
	l := &lockedBuffer{}
	l.written = sync.NewCond(&l.mu)
	return l
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.written.Broadcast()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// count returns how often the log says this.
func (l *lockedBuffer) count(says string) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return bytes.Count(l.b.Bytes(), []byte(says))
}

// await waits until the log says this n times.
func (l *lockedBuffer) await(says string, n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for bytes.Count(l.b.Bytes(), []byte(says)) < n {
		l.written.Wait()
	}
}

// replaceFile renames a new file over the old one, as programs that renew certificates do.
func replaceFile(t testing.TB, file string, content []byte) {
	t.Helper()
	must(t, os.WriteFile(file+".new", content, 0o600))
	must(t, os.Rename(file+".new", file))
}
