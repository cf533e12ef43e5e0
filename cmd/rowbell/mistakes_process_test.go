package main

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// The program tells all mistakes of a configuration file at once, whichever command reads the file. Only the service
// and the doctor look for secrets.
func TestAllMistakesOfAFile(t *testing.T) {
	const file = "testdata/mistakes/network.toml"
	golden, err := os.ReadFile("config/testdata/mistakes/network.txt")
	must(t, err)
	for _, command := range []string{"serve", "doctor", "backup", "sending"} {
		args := []string{command, "--config", file}
		if command == "backup" {
			args = append(args, "--to", t.TempDir()+"/copy.db")
		}
		run := exec.Command(binary(t), args...)
		run.Dir = "config"
		var out bytes.Buffer
		run.Stdout, run.Stderr = &out, &out
		if err := run.Run(); err == nil || run.ProcessState.ExitCode() != 1 {
			t.Errorf("%s: %v", command, err)
		}
		for line := range strings.Lines(string(golden)) {
			_, secret, _ := strings.Cut(line, "secrets[")
			looksForSecrets := command == "serve" || command == "doctor"
			if !looksForSecrets && (strings.Contains(secret, "is not set") || strings.Contains(line, "mistakes:")) {
				continue
			}
			if !strings.Contains(out.String(), strings.TrimSpace(line)) {
				t.Errorf("%s: this is missing: %sin\n%s", command, line, out.String())
			}
		}
		if strings.Contains(out.String(), "swordfish") || strings.Contains(out.String(), "7f3a") {
			t.Errorf("%s shows a secret", command)
		}
	}
}
