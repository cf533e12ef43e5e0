package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Every command that reads the configuration file reports all mistakes in it at once. Only the service and doctor look
// for secrets.
func TestAllMistakesOfAFile(t *testing.T) {
	for command, name := range map[string]string{
		"serve": "network", "doctor": "slips", "backup": "network", "sending": "slips"} {
		file := "testdata/mistakes/" + name + ".toml"
		golden, err := os.ReadFile("config/testdata/mistakes/" + name + ".txt")
		must(t, err)
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

// doctor names what in a description does not fit a recorded request or answer. The times of adze are in milliseconds,
// and the place of heron's ids is another one than the changed description says (testdata/gateways).
func TestDoctorNamesSlips(t *testing.T) {
	samples, err := filepath.Abs("../../testdata/gateways")
	must(t, err)
	for _, tt := range []struct{ network, from, to, flag, file, says string }{
		{"adze", `"unix-ms"`, `"unix"`, "--sample", "ussd-1-begin.http", `time = "unix-ms" fits`},
		{"heron", "/parcel/ticket", "/parcel/tiket", "--answer", "push-right.response",
			"missing   /parcel/tiket\n  there     /parcel/fate, /parcel/ticket"},
	} {
		right, err := os.ReadFile(filepath.Join(samples, tt.network+".toml"))
		must(t, err)
		file := filepath.Join(t.TempDir(), "rowbell.toml")
		must(t, os.WriteFile(file, bytes.ReplaceAll(right, []byte(tt.from), []byte(tt.to)), 0o600))
		run := exec.Command(binary(t), "doctor", "--config", file, "--profile", tt.network,
			tt.flag, filepath.Join(samples, tt.network, tt.file))
		secrets, err := os.ReadFile(filepath.Join(samples, "secrets.env"))
		must(t, err)
		run.Env = append(os.Environ(), strings.Fields(string(secrets))...)
		if out, _ := run.CombinedOutput(); !strings.Contains(string(out), tt.says) {
			t.Errorf("%s: %q is not said:\n%s", tt.network, tt.says, out)
		}
	}
}
