package main

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pb33f/go-yaml"

	"rowbell/cmd/rowbell/manual"
)

// file returns a file of the manual.
func file(t *testing.T, name string) string {
	t.Helper()
	p, err := manual.Read(name)
	must(t, err)
	return p.Text
}

// tool returns the path of a program that CI installs. Without it the test is skipped elsewhere.
func tool(t *testing.T, program, from string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skipf("no %s: install the package %s", program, from)
	}
	return path
}

// systemd understands each line of the unit and finds the service well shut in: 0 is shut in wholly, 100 not at all.
func TestUnitIsUnderstood(t *testing.T) {
	analyze := tool(t, "systemd-analyze", "systemd")
	unit := filepath.Join(t.TempDir(), "rowbell.service")
	text := strings.ReplaceAll(file(t, "rowbell.service"), "/usr/local/bin/rowbell", binary(t))
	must(t, os.WriteFile(unit, []byte(text), 0o600))
	for _, args := range [][]string{
		{"verify", "--man=no", unit},
		{"security", "--offline=true", "--no-pager", "--threshold=15", unit},
	} {
		out, err := exec.Command(analyze, args...).CombinedOutput()
		if err != nil || strings.Contains(string(out), unit+":") { // a line that is not understood is only a warning
			t.Errorf("systemd-analyze %s: %v\n%s", args[0], err, out)
		}
	}
}

// installed is a machine with the folders of the unit or of the container.
type installed struct {
	*process
	paths *strings.Replacer // from the paths of the file to those of this test
}

// install makes the folder of the configuration, and that of the records, in which the service runs.
func install(t *testing.T, program, etc, records string) *installed {
	t.Helper()
	p := bareProcess(t)
	conf := t.TempDir()
	write := func(name, text string) { must(t, os.WriteFile(filepath.Join(conf, name), []byte(text), 0o600)) }
	write("rowbell.toml", "listen = \"127.0.0.1:0\"\n")
	write("token", testToken+"\n")
	p.env = []string{"ROWBELL_TOKEN_LOCAL_FILE=" + filepath.Join(conf, "token")} // as the page has it
	return &installed{p, strings.NewReplacer(program+" ", "", "["+program+" ", "", etc, conf, records, p.dir)}
}

// command runs a command line of the file beside the service.
func (i *installed) command(line string) string {
	i.t.Helper()
	cmd := exec.Command(binary(i.t), strings.Fields(i.paths.Replace(line))...)
	cmd.Dir = i.dir
	out, err := cmd.CombinedOutput()
	if err != nil {
		i.t.Errorf("%s: %v\n%s", line, err, out)
	}
	return string(out)
}

// works checks that the service answers a call with the token of its file, and keeps its records in its folder.
func (i *installed) works() {
	i.t.Helper()
	i.token = testToken
	i.dial(1, http.StatusOK)
	if _, err := os.Stat(filepath.Join(i.dir, "rowbell.db")); err != nil {
		i.t.Error(err)
	}
}

// What the unit starts, reloads and stops works.
func TestUnitRuns(t *testing.T) {
	unit := file(t, "rowbell.service")
	value := func(key string) string {
		m := regexp.MustCompile(`(?m)^` + key + `=(.*)$`).FindStringSubmatch(unit)
		if m == nil {
			t.Fatalf("the unit has no %s", key)
		}
		return m[1]
	}
	i := install(t, "/usr/local/bin/rowbell", "/etc/rowbell", "/var/lib/rowbell")
	if value("WorkingDirectory") != "/var/lib/"+value("StateDirectory") {
		t.Error("the service does not run in the folder of its records")
	}
	i.run(strings.Fields(i.paths.Replace(value("ExecStart")))...)
	i.works()
	if out := i.command(value("ExecReload")); !strings.Contains(out, "has read its configuration anew") {
		t.Errorf("reload says %q", out)
	}
	i.stop()
}

// composed is what the compose file says of the service.
type composed struct {
	Command     []string
	Volumes     []string
	Image       string
	PullPolicy  string `yaml:"pull_policy"`
	Healthcheck struct{ Test []string }
}

// The command and the health check of the compose file work, and the image is the one that is built from the
// Dockerfile.
func TestComposeFileRuns(t *testing.T) {
	var all struct{ Services map[string]composed }
	must(t, yaml.Unmarshal([]byte(file(t, "compose.yaml")), &all))
	c, ok := all.Services["rowbell"]
	if !ok || len(all.Services) != 1 || c.Image != "rowbell" || c.PullPolicy != "build" {
		t.Fatalf("the services are %+v", all.Services)
	}
	if !slices.Contains(c.Volumes, "records:/data") || !slices.Contains(c.Volumes, "./etc:/etc/rowbell:ro") {
		t.Errorf("the volumes are %q", c.Volumes)
	}
	docker := string(houseRead(t, "Dockerfile"))
	for _, line := range []string{"WORKDIR /data\n", "VOLUME /data\n", "ENTRYPOINT [\"/rowbell\"]\n", "EXPOSE 8080\n"} {
		if !strings.Contains(docker, line) {
			t.Errorf("the Dockerfile has no %s", line)
		}
	}
	i := install(t, "/rowbell", "/etc/rowbell", "/data")
	command := strings.Replace(strings.Join(c.Command, " "), " 0.0.0.0:8080 ", " 127.0.0.1:0 ", 1)
	i.run(strings.Fields(i.paths.Replace(command))...)
	i.works()
	test := c.Healthcheck.Test
	if len(test) < 2 || test[0] != "CMD" {
		t.Fatalf("the health check is %q", test)
	}
	line := strings.Join(test[1:], " ") + " --url " + i.base + "/readyz" // the test's port is not that of the file
	if out := i.command(line); !strings.HasPrefix(out, "ready\n") {
		t.Errorf("the health check says %q", out)
	}
	i.stop()
}

// The compose file fits the schema and the rules of the Compose Specification, as its own library checks them.
func TestComposeFileIsUnderstood(t *testing.T) {
	check := []string{"tool", "-modfile=" + filepath.Join(houseRoot, ".ci/tools/go.mod"),
		"github.com/compose-spec/compose-go/v2/cmd"}
	if out, err := exec.Command("go", slices.Insert(slices.Clone(check), 2, "-n")...).CombinedOutput(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%v\n%s", err, out)
		}
		t.Skipf("the checker cannot be built here: %s", out)
	}
	validate := func(text string) (string, error) {
		path := filepath.Join(t.TempDir(), "compose.yaml")
		must(t, os.WriteFile(path, []byte(text), 0o600))
		out, err := exec.Command("go", append(check, path)...).CombinedOutput()
		return string(out), err
	}
	text := file(t, "compose.yaml")
	if out, err := validate(text); err != nil || !strings.Contains(out, "rowbell_records") {
		t.Errorf("%v\n%s", err, out)
	}
	if out, err := validate(strings.Replace(text, "read_only:", "readonly:", 1)); err == nil {
		t.Errorf("the checker takes an unknown key:\n%s", out)
	}
}
