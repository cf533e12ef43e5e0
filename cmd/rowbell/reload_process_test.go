package main

import (
	"bytes"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// reloaded is a service on a configuration that the test changes.
type reloaded struct {
	*process
	file, secret string // the configuration, and the file of the secret of the network tern
	wren         *onceEach
	wrenURL      string
}

// onceEach is a network that is not idempotent: it counts what it gets of each text.
type onceEach struct {
	mu  sync.Mutex
	got map[string]int // by the number of the phone
	key string         // the secret that the last request had
}

func (o *onceEach) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.got[r.FormValue("to")]++
	o.key = r.Header.Get("X-Key")
	fmt.Fprint(w, "taken")
}

func (o *onceEach) counts() (texts, requests int) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, n := range o.got {
		texts, requests = texts+1, requests+n
	}
	return texts, requests
}

const oldSecret, newSecret = "reeds-beside-the-old-water", "reeds-beside-the-new-water"

// startReloaded starts the service, with the real clock or, with more flags, with the clock of the test.
func startReloaded(t *testing.T, flags ...string) *reloaded {
	t.Helper()
	p := newProcess(t)
	r := &reloaded{process: p, file: filepath.Join(p.dir, "rowbell.toml"), secret: filepath.Join(p.dir, "secret"),
		wren: &onceEach{got: map[string]int{}}}
	server := httptest.NewServer(r.wren)
	t.Cleanup(server.Close)
	r.wrenURL = server.URL
	p.pushURL, p.push, p.network = p.push.URL, nil, "tern" // run then sets no variable of the gateway local
	r.write(r.secret, oldSecret)
	r.write(r.file, r.good(true))
	p.env = []string{"TERN_SECRET_FILE=" + r.secret, "ROWBELL_TOKEN_LOCAL="}
	p.token = ""
	p.run(append([]string{"serve", "--listen", "127.0.0.1:0", "--config", r.file, "--log-level", "info"}, flags...)...)
	p.token = oldSecret
	return r
}

// good returns a configuration. With wren, the texts to the numbers from 500 on go by the network wren.
func (r *reloaded) good(wren bool) string {
	s := fmt.Sprintf("[texts]\nlanguages = [\"en\"]\n"+
		"[limits]\ncalls_a_minute = 0\n[limits.number]\ncalls_a_minute = 0\n"+
		"[gateways.tern]\ntrust = { by = \"bearer\", secrets = [\"TERN_SECRET\"] }\n"+
		"push = { url = %q, rate = 10000.0 }\n[[routes]]\nthrough = [\"tern\"]\n", r.pushURL)
	if !wren {
		return s
	}
	s += fmt.Sprintf("[gateways.wren.push]\nurl = %q\ntype = \"application/x-www-form-urlencoded\"\n"+
		"headers = { X-Key = \"{{.Secret}}\" }\nsecrets = [\"TERN_SECRET\"]\n"+
		"body = \"to={{.To}}&words={{.Text}}\"\nrate = 10000.0\nidempotent = false\n", r.wrenURL)
	for hundred := 5; hundred < 10; hundred++ {
		s += fmt.Sprintf("[[routes]]\nprefix = \"+44%d\"\nthrough = [\"wren\"]\n", 77009000+hundred)
	}
	return s
}

func (r *reloaded) write(file, content string) {
	r.t.Helper()
	replaceFile(r.t, file, []byte(content))
}

// hangUp sends SIGHUP and waits until the log says what became of it.
func (r *reloaded) hangUp(says string) {
	r.t.Helper()
	seen := r.log.count(says)
	must(r.t, r.cmd.Process.Signal(syscall.SIGHUP))
	r.log.await(says, seen+1)
}

// checks lets the service check n times for new secrets and for requests.
func (r *reloaded) checks(n int) {
	r.t.Helper()
	for range n {
		r.clock(map[string]any{"advance": "1s"})
	}
}

// reload runs rowbell reload beside the service, which checks for the request until the command has ended.
func (r *reloaded) reload() (out string, code int) {
	r.t.Helper()
	c := exec.Command(binary(r.t), "reload", "--config", r.file)
	c.Dir = r.dir
	var b bytes.Buffer
	c.Stdout, c.Stderr = &b, &b
	must(r.t, c.Start())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = c.Wait() // the exit code tells
	}()
	for {
		select {
		case <-ended:
			return b.String(), c.ProcessState.ExitCode()
		default:
			r.checks(1)
		}
	}
}

const readAnew, refusedAnew = "configuration: read anew", "configuration: refused"

// The service answers every call while it reads right and wrong configurations anew under load. Each text is answered
// once, also by a network that does not recognise repeats and that only some of the configurations have.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestConfigurationIsReadAnewUnderLoad(t *testing.T) {
	t.Parallel()
	r := startReloaded(t)
	const reloads, dialling, texting = 20, 3, 2
	var over atomic.Bool
	var calls, texts atomic.Int64
	var load sync.WaitGroup
	for i := range dialling {
		load.Go(func() {
			for n := 0; !over.Load(); n++ {
				answer, status, err := r.try("ussd", map[string]any{"phone": fictional(i*100 + n%100).E164(),
					"session": fmt.Sprint(i, "-", n), "step": 0, "event": "begin", "dialled": "*123#"})
				if err != nil || status != http.StatusOK || len(answer) == 0 {
					t.Errorf("a call: %v, %d %s", err, status, answer)
					return
				}
				calls.Add(1)
			}
		})
	}
	// Each number sends one text, because a number that sends many in a row is not answered.
	numbers := make(chan int)
	for range texting {
		load.Go(func() {
			for n := range numbers {
				body := map[string]any{"id": fmt.Sprint("t", n), "phone": fictional(n).E164(), "text": "help"}
				if b, status, err := r.try("sms", body); err != nil || status != http.StatusAccepted {
					t.Errorf("a text: %v, %d %s", err, status, b)
					return
				}
				texts.Add(1)
			}
		})
	}
	for i := range reloads {
		for n := 300 + i*30; n < 330+i*30; n++ {
			numbers <- n
		}
		switch i % 4 {
		case 0, 2:
			r.write(r.file, r.good(i%4 == 2))
			r.hangUp(readAnew)
		case 1:
			r.write(r.file, r.good(true)+"\n[gateways.wren.trust\n")
			r.hangUp(refusedAnew)
		case 3:
			r.write(r.file, strings.Replace(r.good(false), "TERN_SECRET", "TERN_SECRETS", 1)+"\nlissten = 3\n")
			r.hangUp(refusedAnew)
		}
	}
	close(numbers)
	over.Store(true)
	load.Wait()
	// The texts that still wait go out with the next rounds of the sender.
	for arrived := 0; arrived < int(texts.Load()); {
		other, _ := r.wren.counts()
		arrived = r.inbox.count() + other
		if arrived < int(texts.Load()) {
			r.get("/healthz")
		}
	}
	byWren, requests := r.wren.counts()
	if byWren == 0 || byWren != requests {
		t.Errorf("wren got %d texts in %d requests", byWren, requests)
	}
	if all := r.inbox.count() + byWren; all != int(texts.Load()) {
		t.Errorf("%d texts were answered by %d", texts.Load(), all)
	}
	if calls.Load() < reloads {
		t.Errorf("only %d calls in %d reloads", calls.Load(), reloads)
	}
	r.stop()
	t.Logf("%d calls, %d texts, %d of them by wren", calls.Load(), texts.Load(), byWren)
}

// rowbell reload prints the answer of the service: that it has read the configuration, what needs a restart, or all
// mistakes. /readyz reports a refused configuration until a good one is read. Secrets are read anew from their files.
// If a file has no valid secret, the old secret stays valid.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestReloadCommandAndSecretFiles(t *testing.T) {
	t.Parallel()
	r := startReloaded(t, "--test-clock", aDay.Format(time.RFC3339))
	calls := func(secret string, want int) {
		t.Helper()
		r.token = secret
		r.dial(1, want)
	}
	readyz := func() string {
		t.Helper()
		status, body := r.get("/readyz")
		if status != http.StatusOK {
			t.Errorf("readyz: %d %s", status, body)
		}
		return body
	}
	refused := func(want int) {
		t.Helper()
		line := fmt.Sprint("rowbell_configuration_refused ", want)
		if _, metrics := r.get("/metrics"); !strings.Contains(metrics, line) {
			t.Errorf("rowbell_configuration_refused is not %d", want)
		}
	}
	pushed := func(secret string) {
		t.Helper()
		r.wren.mu.Lock()
		defer r.wren.mu.Unlock()
		if r.wren.key != secret {
			t.Errorf("the last text went out with another secret than %q", secret)
		}
	}
	reload := func(file string, code int, says ...string) {
		t.Helper()
		r.write(r.file, file)
		out, got := r.reload()
		for _, s := range says {
			if !strings.Contains(out, s) {
				t.Errorf("rowbell reload: %s\nwant %q", out, s)
			}
		}
		if got != code {
			t.Errorf("rowbell reload: exit code %d, want %d: %s", got, code, out)
		}
	}
	reload(r.good(false), 0, "The service has read its configuration anew.")
	reload("quiet_hour = 3\nstep = 2\n"+r.good(false)+"[gateways.tern.limits]\ntexts_a_day = -1\n", 1,
		"the earlier one stays", "line 1, column 14: quiet_hour: 3 is not",
		"line 2, column 1: step: there is no setting",
		"gateways.tern.limits.texts_a_day: -1 is below 0")
	refused(1)
	if notes := readyz(); !strings.Contains(notes, "refused, mistakes: 3") {
		t.Errorf("readyz does not tell of the refused configuration: %s", notes)
	}
	calls(oldSecret, http.StatusOK)
	reload(r.good(false)+"[keep]\ntexts_days = 90\n[gateways.plover]\n"+
		"trust = { by = \"bearer\", secrets = [\"TERN_SECRET\"] }\n", 0, "A restart is needed for: keep.")
	if notes := readyz(); strings.Contains(notes, "refused") {
		t.Errorf("readyz still tells of a refused configuration: %s", notes)
	}
	r.network = "plover"
	calls(oldSecret, http.StatusOK)
	r.network = "tern"
	reload(r.good(false), 0)
	if _, status, err := r.try("/in/plover/ussd", nil); err != nil || status != http.StatusNotFound {
		t.Errorf("a network that is gone: %v, %d", err, status)
	}

	words := filepath.Join(r.dir, "words")
	must(t, os.Mkdir(words, 0o700))
	withWords := strings.Replace(r.good(false), "[texts]\n", fmt.Sprintf("[texts]\nfolder = %q\n", words), 1)
	r.write(filepath.Join(words, "en.toml"), "[welcome]\ncode = \"I bring a code\"\n")
	reload(withWords, 0)
	r.write(filepath.Join(words, "en.toml"), "[welcome]\ncode = \"\"\n")
	reload(withWords, 1, "en.toml:2: welcome.code: is empty")
	if screen := r.dial(2, http.StatusOK); !strings.Contains(string(screen), "I bring a code") {
		t.Errorf("the words of the operator are not in %s", screen)
	}
	reload(r.good(false), 0)

	r.write(r.secret, newSecret+"\n")
	r.checks(2)
	calls(newSecret, http.StatusOK)
	calls(oldSecret, http.StatusUnauthorized)
	r.write(r.secret, "")
	r.checks(2)
	r.log.await("the file is empty", 1)
	calls(newSecret, http.StatusOK)
	must(t, os.Remove(r.secret))
	r.checks(1)
	r.log.await("TERN_SECRET_FILE: the file is gone", 1)
	calls(newSecret, http.StatusOK)
	refused(1)
	if notes := readyz(); !strings.Contains(notes, "files were not taken: 1") {
		t.Errorf("readyz does not tell of the secret: %s", notes)
	}
	r.write(r.secret, oldSecret)
	r.checks(2)
	calls(oldSecret, http.StatusOK)
	if notes := readyz(); strings.Contains(notes, "not taken") {
		t.Errorf("readyz still tells of the secret: %s", notes)
	}
	refused(0)

	// A secret that is not taken because of something else says so.
	authority := filepath.Join(r.dir, "authority.pem")
	_, certificate, _ := (*issuer)(nil).issue(t, 1)
	r.write(authority, string(certificate))
	reload(r.good(false)+fmt.Sprintf("[gateways.plover]\ntrust = { by = \"bearer\", secrets = [\"TERN_SECRET\"] }\n"+
		"push = { url = \"https://127.0.0.1:9\", authority = %q }\n", authority), 0)
	must(t, os.Remove(authority))
	r.write(r.secret, newSecret)
	r.checks(2)
	r.log.await("TERN_SECRET_FILE: the file was not taken: gateways: plover: push: authority: open ", 1)
	calls(oldSecret, http.StatusOK)
	r.write(r.secret, oldSecret)

	reload(r.good(true), 0)
	r.text(500, http.StatusAccepted)
	r.settle()
	pushed(oldSecret)
	r.write(r.secret, newSecret)
	r.checks(2)
	r.token = newSecret
	r.text(501, http.StatusAccepted)
	r.settle()
	pushed(newSecret)
	r.stop()
	alone := exec.Command(binary(t), "reload", "--db", filepath.Join(r.dir, "rowbell.db"))
	if out, _ := alone.CombinedOutput(); !strings.Contains(string(out), "no service runs with these records") {
		t.Errorf("rowbell reload without a service: %s", out)
	}
	if log := r.log.String(); strings.Contains(log, oldSecret) || strings.Contains(log, newSecret) {
		t.Error("a secret is in the log")
	}
}
