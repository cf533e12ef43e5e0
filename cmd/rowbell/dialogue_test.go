package main

import (
	"bufio"
	"bytes"
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
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// A dialogue is a text file that a grower could read. It says what is done;
// what the service answers stands under it and must be the same again:
//
//	start 2026-11-25 09:00     the clock, UTC
//	phone +447700900001        whose phone the next lines are about
//	> dial *123#               USSD: dial, then one entry a line
//	> 1
//	> hang up                  the session drops
//	< text                     what the screen shows, a line each
//	sms > 1                    a text sent
//	sms 2026-12-01 07:00 < ..  a text that came, and when
//	@ +3 days                  the clock goes on, through every morning
//	@ off 3 days               the service is switched off meanwhile
//	@ restart                  killed (SIGKILL) and started again
//	weather cool-days.csv      the operator imports a file of this folder
//
// go test ./cmd/rowbell -run Dialogues -update writes the answers anew: read
// them as the grower before they are kept.
var update = flag.Bool("update", false, "write the answers of dialogues and golden files anew")

func TestDialogues(t *testing.T) {
	files, err := filepath.Glob("../../testdata/dialogues/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no dialogues found: %v", err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			t.Parallel()
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			d := &dialogue{t: t, shown: new(bytes.Buffer)}
			got := d.play(string(want))
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != string(want) {
				t.Errorf("the service answers otherwise than %s says:\n%s", file, firstDifference(string(want), got))
			}
		})
	}
}

// firstDifference shows the first lines that differ, with what stands before.
func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		line := func(s []string) string {
			if i < len(s) {
				return s[i]
			}
			return "(end)"
		}
		if line(w) != line(g) {
			return fmt.Sprintf("line %d, after\n%s\nwant %q\ngot  %q", i+1, strings.Join(w[max(0, i-6):min(i, len(w))], "\n"), line(w), line(g))
		}
	}
	return ""
}

// dialogue plays one file against a process of its own.
type dialogue struct {
	t       *testing.T
	p       *process
	clock   time.Time
	phone   string
	session int
	step    int
	smsID   int
	shown   *bytes.Buffer
}

func (d *dialogue) play(script string) string {
	for line := range strings.Lines(script) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "<"), isTextLine(line):
			continue // an answer: it is written anew
		}
		fmt.Fprintln(d.shown, line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		d.do(line)
		d.texts()
	}
	d.p.stop()
	return d.shown.String()
}

// isTextLine tells "sms DATE < text" and its further lines from "sms > text".
func isTextLine(line string) bool {
	return strings.HasPrefix(line, "sms ") && !strings.HasPrefix(line, "sms >")
}

func (d *dialogue) do(line string) {
	word, rest, _ := strings.Cut(line, " ")
	switch word {
	case "start":
		at, err := time.ParseInLocation("2006-01-02 15:04", rest, time.UTC)
		if err != nil {
			d.t.Fatalf("%q: %v", line, err)
		}
		d.clock = at
		d.p = startProcess(d.t, at)
	case "phone":
		d.phone = rest
	case ">":
		d.ussd(rest)
	case "sms":
		d.smsID++
		d.p.post("sms", map[string]any{"id": fmt.Sprintf("%s-%d", d.phone, d.smsID), "phone": d.phone, "to": "12345", "text": strings.TrimPrefix(rest, "> ")}, http.StatusAccepted)
		d.p.settle()
	case "@":
		d.time(line, rest)
	case "weather":
		d.weather(rest)
	default:
		d.t.Fatalf("a dialogue has no line like %q", line)
	}
}

func (d *dialogue) ussd(entry string) {
	call := map[string]any{"phone": d.phone, "event": "entry", "entry": entry}
	switch {
	case strings.HasPrefix(entry, "dial "):
		d.session++
		d.step = 0
		call["event"], call["dialled"], call["entry"] = "begin", strings.TrimPrefix(entry, "dial "), ""
	case entry == "hang up":
		d.step++
		call["event"], call["entry"] = "end", ""
	default:
		d.step++
	}
	call["session"], call["step"] = fmt.Sprintf("s%s-%d", d.phone, d.session), d.step
	var reply struct {
		Text string
		More bool
	}
	if err := json.Unmarshal(d.p.post("ussd", call, http.StatusOK), &reply); err != nil {
		d.t.Fatal(err)
	}
	if entry == "hang up" {
		return
	}
	for l := range strings.Lines(reply.Text) {
		fmt.Fprintf(d.shown, "< %s\n", strings.TrimRight(l, "\n"))
	}
	if !reply.More {
		fmt.Fprintln(d.shown, "< (end)")
	}
	d.p.settle()
}

var days = regexp.MustCompile(`^(\+|off )(\d+) days?$`)

func (d *dialogue) time(line, rest string) {
	if rest == "restart" {
		d.p.kill()
		d.p.start(d.clock)
		return
	}
	m := days.FindStringSubmatch(rest)
	if m == nil {
		d.t.Fatalf("%q: write @ +3 days, @ off 3 days or @ restart", line)
	}
	n := 0
	fmt.Sscan(m[2], &n)
	to := d.clock.AddDate(0, 0, n)
	if m[1] == "off " {
		d.p.stop()
		d.clock = to
		d.p.start(d.clock)
		d.p.settle()
		return
	}
	for d.clock.Before(to) {
		// Two-hour steps pass through every morning at seven.
		d.clock = d.clock.Add(2 * time.Hour)
		d.p.set(d.clock)
		d.texts()
	}
}

// weather imports what was measured, beside the running service.
func (d *dialogue) weather(file string) {
	path, err := filepath.Abs(filepath.Join("../../testdata/dialogues", file))
	if err != nil {
		d.t.Fatal(err)
	}
	c := exec.Command(binary(d.t), "import", "weather", path, "--today", d.clock.Format(time.DateOnly))
	c.Dir = d.p.dir
	if out, err := c.CombinedOutput(); err != nil {
		d.t.Fatalf("import weather %s: %v\n%s", file, err, out)
	}
}

// texts shows what came for this phone since the last look.
func (d *dialogue) texts() {
	if d.p == nil {
		return
	}
	for _, s := range d.p.inbox.take(d.phone) {
		for i, l := range strings.Split(s, "\n") {
			if i == 0 {
				fmt.Fprintf(d.shown, "sms %s < %s\n", d.clock.Format("2006-01-02 15:04"), l)
			} else {
				fmt.Fprintf(d.shown, "sms | %s\n", l)
			}
		}
	}
}

// inbox is the network's side: it takes pushes and drops those that repeat an
// idempotency key, as a network would.
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

// process is the built binary, running.
type process struct {
	t       testing.TB
	dir     string
	token   string
	inbox   *inbox
	push    *httptest.Server
	cmd     *exec.Cmd
	base    string
	log     *lockedBuffer
	http    *http.Client
	drained <-chan struct{} // closed when all that it logged was read
}

const testToken = "token-of-the-test-gateway"

func startProcess(t testing.TB, at time.Time) *process {
	t.Helper()
	p := &process{t: t, dir: t.TempDir(), token: testToken, log: &lockedBuffer{}, http: &http.Client{Timeout: 30 * time.Second},
		inbox: &inbox{seen: map[string]int{}, text: map[string][]string{}}}
	p.push = httptest.NewServer(p.inbox)
	t.Cleanup(p.push.Close)
	t.Cleanup(func() { p.kill(); assertNoNumbers(t, p.log.String()) })
	p.start(at)
	return p
}

// start runs the service against the test's network, its clock at this
// instant.
func (p *process) start(at time.Time) {
	p.t.Helper()
	config, err := filepath.Abs("../../testdata/dialogues/rowbell.toml")
	if err != nil {
		p.t.Fatal(err)
	}
	p.run("serve", "--listen", "127.0.0.1:0", "--config", config, "--test-clock", at.Format(time.RFC3339))
}

// run starts the binary in the process's folder and waits until it says where
// it listens.
func (p *process) run(args ...string) {
	p.t.Helper()
	p.cmd = exec.Command(binary(p.t), args...)
	p.cmd.Dir = p.dir
	p.cmd.Env = append(os.Environ(), envToken+"="+p.token)
	if p.push != nil {
		p.cmd.Env = append(p.cmd.Env, envPush+"="+p.push.URL)
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
	<-p.drained // Wait would cut off what is still to be read
	if err := p.cmd.Wait(); err != nil {
		p.t.Fatalf("the service did not stop well: %v\n%s", err, p.log.String())
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

// set moves the service's clock; bell and push have run when it returns.
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

// binary builds rowbell once for all tests that run it as a process.
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

// phoneNumbers are what must never stand in a log in clear.
var phoneNumbers = regexp.MustCompile(`\+?447700900\d{3}`)

func assertNoNumbers(t testing.TB, log string) {
	t.Helper()
	if found := phoneNumbers.FindString(log); found != "" {
		t.Errorf("the log holds the phone number %s", found)
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
