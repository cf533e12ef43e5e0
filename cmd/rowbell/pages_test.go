package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/manual"
)

// The tests in this file compare the README and the manual with the program. They run each command in a block marked
// sh, read each block marked toml as configuration, and let Prometheus check each block marked yaml. The commands must
// print each line of the block marked text that follows them.

// page is the README or a page of the manual.
type page struct {
	name, file, text string
	words            int // greatest number of words that the page may have
	// empty: the folder of the page has no records at first. A page whose commands include "rowbell serve" without
	// flags starts in an empty folder.
	empty bool
}

func pages(t *testing.T) []page {
	t.Helper()
	read := func(file string) string { return string(houseRead(t, file)) }
	list := []page{{name: "README", file: "README.md", text: read("README.md"), words: 1300}}
	for _, m := range manual.Pages() {
		file := "cmd/rowbell/manual/" + m.Name + ".md"
		if read(file) != m.Text {
			t.Errorf("%s is not what rowbell manual %s prints", file, m.Name)
		}
		list = append(list, page{name: m.Name, file: file, text: m.Text, words: 1000})
	}
	for i := range list {
		list[i].empty = regexp.MustCompile(`(?m)^rowbell serve$`).MatchString(list[i].text)
	}
	return list
}

// block is a fenced code block of a page.
type block struct{ kind, text string }

var fenced = regexp.MustCompile("(?ms)^```(\\w+)\n(.*?)^```$")

func (p page) blocks() []block {
	var list []block
	for _, m := range fenced.FindAllStringSubmatch(p.text, -1) {
		list = append(list, block{m[1], m[2]})
	}
	return list
}

func TestPagesAreShort(t *testing.T) {
	guide := page{name: "DEVELOPERS", file: "DEVELOPERS.md", text: string(houseRead(t, "DEVELOPERS.md")), words: 2000}
	for _, p := range append(pages(t), guide) {
		if n := len(strings.Fields(p.text)); n > p.words {
			t.Errorf("%s has %d words; at most %d", p.file, n, p.words)
		}
		for i, line := range strings.Split(p.text, "\n") {
			if n := len([]rune(line)); n > 120 {
				t.Errorf("%s:%d: %d columns; at most 120", p.file, i+1, n)
			}
		}
		for _, m := range regexp.MustCompile(`\]\(([^)#:]+)\)`).FindAllStringSubmatch(p.text, -1) {
			if _, err := os.Stat(filepath.Join(houseRoot, filepath.Dir(p.file), m[1])); err != nil {
				t.Errorf("%s links to %s: %v", p.file, m[1], err)
			}
		}
	}
}

// rowbell manual lists every file of the manual and prints it, and the README links to every page.
func TestManualIsWhole(t *testing.T) {
	readme, list := string(houseRead(t, "README.md")), prints(t, "manual")
	for _, p := range manual.Pages() {
		if !strings.Contains(readme, "(cmd/rowbell/manual/"+p.Name+".md)") {
			t.Errorf("README.md does not link to the page %s", p.Name)
		}
	}
	files, err := filepath.Glob("manual/*.*")
	if err != nil || len(files) == 0 {
		t.Fatalf("no pages: %v", err)
	}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".md")
		if filepath.Ext(f) == ".go" {
			continue
		}
		if !regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(name) + `  `).MatchString(list) {
			t.Errorf("%s is not listed by rowbell manual", f)
		}
		if prints(t, "manual", name) != string(houseRead(t, "cmd/rowbell/"+f)) {
			t.Errorf("rowbell manual %s does not print %s", name, f)
		}
	}
}

func TestPagesRun(t *testing.T) {
	for _, p := range pages(t) {
		t.Run(p.name, func(t *testing.T) {
			t.Parallel()
			blocks, commands := p.blocks(), 0
			r := newPageRun(t, p)
			for i, b := range blocks {
				switch b.kind {
				case "sh":
					r.output = ""
					for _, line := range commandLines(b.text) {
						commands++
						r.command(line)
					}
				case "toml":
					r.configure(b.text)
				case "text":
					r.prints(b.text)
				case "yaml":
					r.watches(b.text)
				default:
					t.Errorf("block %d is marked %s: nothing checks it", i+1, b.kind)
				}
			}
			if commands == 0 {
				t.Error("the page has no command that runs")
			}
			r.stop()
		})
	}
}

// pageRun runs the commands of one page in a new folder.
type pageRun struct {
	t      *testing.T
	dir    string
	config string // all blocks of rowbell.toml that the page has shown so far
	output string // output of the commands in the current block
	env    []string
	addr   string // address of the service that the page started; it replaces 127.0.0.1:8080 in commands
	server *exec.Cmd
	said   chan string
}

func newPageRun(t *testing.T, p page) *pageRun {
	t.Helper()
	r := &pageRun{t: t, dir: t.TempDir()}
	r.env = append(os.Environ(), "PATH="+filepath.Dir(binary(t))+":"+os.Getenv("PATH"))
	for _, name := range []string{"KILN_SECRET", "KILN_SECRET_OLD", "KILN_SEND", "SEDGE_SECRET"} {
		r.env = append(r.env, name+"=reeds-by-the-water-"+strings.ToLower(name))
	}
	for _, folder := range []string{"testdata", "menu"} {
		root, err := filepath.Abs(filepath.Join(houseRoot, folder))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(root, filepath.Join(r.dir, folder)); err != nil {
			t.Fatal(err)
		}
	}
	if p.name == "trust" { // the page names these files
		_, cert, key := (*issuer)(nil).issue(t, 1)
		for name, content := range map[string][]byte{
			"sedge.pem": cert, "sedge-key.pem": key, "sedge-authority.pem": cert,
		} {
			must(t, os.WriteFile(filepath.Join(r.dir, name), content, 0o600))
		}
	}
	if p.name == "sending" { // the page "sending" continues the example of the page "networks"
		r.configure(tomlOf(t, "networks") + "\n[gateways.heron.push]\nurl = \"https://heron.example/parcels\"\n")
	}
	if !p.empty {
		b, err := valleyRecords()
		if err == nil {
			err = os.WriteFile(filepath.Join(r.dir, config.DefaultDB), b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() {
		if r.server != nil {
			r.server.Process.Kill()
			r.server.Wait()
		}
	})
	return r
}

// valleyRecords runs rowbell practice and returns the database of its first day.
var valleyRecords = sync.OnceValues(func() ([]byte, error) {
	path, err := buildOnce()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "rowbell-valley-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	cmd := exec.Command(path, "practice", "--db", "valley.db", "--start", "2026-11-25", "--listen", "127.0.0.1:0")
	cmd.Dir = dir
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		return nil, err
	}
	for lines := bufio.NewScanner(out); lines.Scan() && !strings.HasPrefix(lines.Text(), "Open "); {
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		return nil, err
	}
	if err := cmd.Wait(); err != nil {
		return nil, err
	}
	return os.ReadFile(filepath.Join(dir, "valley.db"))
})

func tomlOf(t *testing.T, name string) string {
	t.Helper()
	p, err := manual.Read(name)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, b := range (page{text: p.Text}).blocks() {
		if b.kind == "toml" {
			all = append(all, b.text)
		}
	}
	return strings.Join(all, "\n")
}

var oneMonth = regexp.MustCompile(`(?s)(  \{ min_c.*?\},\n)  # \.\.\. twelve in all\n`)

// configure adds a block to rowbell.toml of the page. The program must be able to read the file.
func (r *pageRun) configure(toml string) {
	r.t.Helper()
	r.config += "\n" + oneMonth.ReplaceAllStringFunc(toml, func(s string) string {
		return strings.Repeat(oneMonth.FindStringSubmatch(s)[1], 12)
	})
	if err := os.WriteFile(filepath.Join(r.dir, config.DefaultFile), []byte(r.config), 0o600); err != nil {
		r.t.Fatal(err)
	}
	// rowbell doctor reads the whole file, and its error names the line of a mistake.
	cmd := exec.Command(binary(r.t), "doctor", "--offline", "--db", "none.db")
	cmd.Dir, cmd.Env = r.dir, r.env
	out, _ := cmd.CombinedOutput() // no error check: the exit code also depends on the state of this machine
	if !regexp.MustCompile(`(?m)^ok +configuration`).Match(out) ||
		regexp.MustCompile(`(?m)^wrong (gateway|texts)`).Match(out) {
		r.t.Errorf("the configuration cannot be used:\n%s\n%s", r.config, out)
	}
}

func (r *pageRun) command(line string) {
	r.t.Helper()
	line = strings.ReplaceAll(line, "go run ./cmd/rowbell", "rowbell")
	switch {
	case strings.HasPrefix(line, "go test ./...") || strings.Contains(line, "go build") ||
		walksTheMenu.MatchString(line):
		r.isInCI(line)
	case line == "rowbell serve" || line == "rowbell practice":
		r.serve(strings.TrimPrefix(line, "rowbell "))
	default:
		if r.addr != "" {
			line = strings.ReplaceAll(line, "127.0.0.1:8080", r.addr)
			line = strings.Replace(line, "rowbell health", "rowbell health --url http://"+r.addr+"/readyz", 1)
		}
		cmd := exec.Command("bash", "-euo", "pipefail", "-c", line)
		cmd.Dir, cmd.Env = r.dir, r.env
		out, err := cmd.CombinedOutput()
		if err != nil {
			r.t.Errorf("%s: %v\n%s", line, err, out)
		}
		r.output += string(out)
	}
}

// walksTheMenu matches commands that walk through the whole menu.
var walksTheMenu = regexp.MustCompile(`^rowbell texts( --texts texts)? --(prove|language|booklet|outline)\b`)

// isInCI checks that the script .ci/run runs this command, which takes too long for a test. Quotes, > /dev/null,
// the folder of the binary and CGO_ENABLED=1 (the default) may differ; the script has -trimpath and -tags in GOFLAGS.
func (r *pageRun) isInCI(line string) {
	r.t.Helper()
	script := string(houseRead(r.t, ".ci/run"))
	goFlags := regexp.MustCompile(`GOFLAGS='-mod=readonly (.*)'`).FindStringSubmatch(script)
	if goFlags == nil {
		r.t.Fatal(".ci/run sets no GOFLAGS")
	}
	plain := func(s string) string {
		s = strings.NewReplacer(`"`, "", `'`, "", "$work/", "", "CGO_ENABLED=1 ", "", " > /dev/null", "",
			"-tags ", "-tags=").Replace(s)
		s = strings.Replace(s, goFlags[1]+" ", "", 1)
		return strings.Join(strings.Fields(s), " ")
	}
	for l := range strings.SplitSeq(script, "\n") {
		if plain(l) == plain(line) {
			return
		}
	}
	r.t.Errorf("%s: .ci/run does not run it", line)
}

var (
	serverAddr  = regexp.MustCompile(`"listening":"([^"]+)"|Open http://([^/]+)/practice/`)
	serverToken = regexp.MustCompile(`^[A-Z2-7]{26}$`)
)

// The Dockerfile builds with the flags of .ci/run. It also sets the version that rowbell --version prints.
func TestDockerfileBuildsAsCI(t *testing.T) {
	r := &pageRun{t: t}
	docker := strings.ReplaceAll(string(houseRead(t, "Dockerfile")), "\\\n", " ")
	build := regexp.MustCompile(`(?m)^RUN (go build .*)$`).FindStringSubmatch(docker)
	if build == nil {
		t.Fatal("the Dockerfile has no RUN go build")
	}
	r.isInCI(strings.NewReplacer("-X main.version=$VERSION ", "", "/out/", "").Replace(build[1]))
}

// serve starts the service on a free port, where it runs until stop.
func (r *pageRun) serve(command string) {
	r.t.Helper()
	r.stop()
	cmd := exec.Command(binary(r.t), command, "--listen", "127.0.0.1:0")
	cmd.Dir, cmd.Env = r.dir, r.env
	read, write, err := os.Pipe()
	if err != nil {
		r.t.Fatal(err)
	}
	cmd.Stdout, cmd.Stderr = write, write
	if err := cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	write.Close()
	r.server, r.addr, r.said = cmd, "", make(chan string, 1)
	var said strings.Builder
	lines := bufio.NewScanner(read)
	for r.addr == "" && lines.Scan() {
		fmt.Fprintln(&said, lines.Text())
		if serverToken.MatchString(lines.Text()) {
			r.env = append(r.env, "TOKEN="+lines.Text())
		}
		if m := serverAddr.FindStringSubmatch(lines.Text()); m != nil {
			r.addr = m[1] + m[2]
		}
	}
	if r.addr == "" {
		r.t.Fatalf("rowbell %s did not start:\n%s", command, said.String())
	}
	go func() {
		defer read.Close()
		rest, _ := io.ReadAll(read)
		r.said <- said.String() + string(rest)
	}()
}

// stop ends the service, which must exit without an error.
func (r *pageRun) stop() {
	r.t.Helper()
	if r.server == nil {
		return
	}
	if err := r.server.Process.Signal(syscall.SIGTERM); err != nil {
		r.t.Fatal(err)
	}
	said := <-r.said
	if err := r.server.Wait(); err != nil {
		r.t.Errorf("the service did not stop well: %v\n%s", err, said)
	}
	r.server, r.addr = nil, ""
}

// watches checks a configuration of Prometheus, which may name files that the page has made.
func (r *pageRun) watches(config string) {
	r.t.Helper()
	program, err := exec.LookPath("promtool")
	if err != nil {
		if os.Getenv("CI") != "" {
			r.t.Error(err)
		}
		return
	}
	file := filepath.Join(r.dir, "prometheus.yml")
	must(r.t, os.WriteFile(file, []byte(config), 0o600))
	if out, err := exec.Command(program, "check", "config", file).CombinedOutput(); err != nil {
		r.t.Errorf("%v\n%s", err, out)
	}
}

// prints checks that the commands have printed these lines in this order.
func (r *pageRun) prints(text string) {
	r.t.Helper()
	rest := r.output
	for line := range strings.SplitSeq(strings.TrimSpace(text), "\n") {
		_, after, ok := strings.Cut(rest, strings.TrimSpace(line))
		if !ok {
			r.t.Errorf("not printed: %s\n%s", line, r.output)
			return
		}
		rest = after
	}
}

// commandLines returns the commands in a block. A line that ends in \ is joined with the next line.
func commandLines(text string) []string {
	var list []string
	for line := range strings.SplitSeq(strings.ReplaceAll(text, "\\\n", " "), "\n") {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			list = append(list, line)
		}
	}
	return list
}
