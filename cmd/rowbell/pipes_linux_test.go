package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A pipe in place of the configuration, of a secret or of a language file is refused: waiting for what nobody writes
// into it, the service could neither take another configuration nor stop. A start from a pipe is refused too, because
// what the first reading got is not there for the next.
func TestPipesAreRefused(t *testing.T) {
	t.Parallel()
	r := startReloaded(t)
	words := filepath.Join(r.dir, "words")
	must(t, os.Mkdir(words, 0o700))
	pipe := func(path string) {
		t.Helper()
		must(t, os.RemoveAll(path))
		must(t, syscall.Mkfifo(path, 0o600))
	}
	refused := func(why string) {
		t.Helper()
		seen := strings.Count(r.log.String(), why)
		r.hangUp(refusedAnew)
		if strings.Count(r.log.String(), why) == seen {
			t.Errorf("the log does not say %q:\n%s", why, r.log.String())
		}
	}
	pipe(r.secret)
	refused("TERN_SECRET_FILE: the file it names cannot be read: it is a pipe or a device")
	r.write(r.secret, oldSecret)
	pipe(r.file)
	refused("rowbell.toml: it is a pipe or a device")
	out, err := exec.Command(binary(t), "serve", "--config", r.file).CombinedOutput()
	if err == nil || !strings.Contains(string(out), "it is a pipe or a device; name a file") {
		t.Errorf("a start from a pipe: %v, %s", err, out)
	}
	pipe(filepath.Join(words, "en.toml"))
	must(t, os.Remove(r.file))
	r.write(r.file, strings.Replace(r.good(true), "[texts]\n", "[texts]\nfolder = \""+words+"\"\n", 1))
	refused("en.toml is not a file")
	r.write(r.file, r.good(true))
	r.hangUp(readAnew)
	r.stop()
}
