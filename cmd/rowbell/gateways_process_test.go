package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/gateway"
)

// The running program gets the recorded requests of each invented network over a connection, through a trusted proxy.
// Each answer equals the recorded answer byte for byte, and so do the texts that go out.
func TestGatewaySamplesOverAConnection(t *testing.T) {
	secrets := configtest.Sample(t, "secrets.env")
	for name := range configtest.Networks(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			steps, _ := configtest.Dialogue(t, name)
			n := configtest.NewNetwork(t)
			toml := n.Description(t, name) + "\n[proxy]\ntrusted = [\"127.0.0.1\"]\n"
			p := bareProcess(t)
			p.env = strings.Split(strings.TrimSpace(secrets), "\n")
			conf := filepath.Join(p.dir, "rowbell.toml")
			must(t, os.WriteFile(conf, []byte(toml), 0o600))
			p.run("serve", "--listen", "127.0.0.1:0", "--config", conf, "--test-clock",
				configtest.SampleTime.Format(time.RFC3339))
			for _, step := range steps {
				file, got := step.File, ""
				switch step.Kind {
				case ".http":
					file, got = strings.TrimSuffix(file, ".http")+".answer", p.exchange(file)
				case ".push":
					n.Expect(t, step)
					if step.At.IsZero() {
						p.settle()
					} else {
						p.set(step.At)
					}
					got = n.Got()
				default:
					continue // the records are read in package service
				}
				want, err := os.ReadFile(file)
				must(t, err)
				if got != string(want) {
					t.Errorf("%s:\n%s\nwant\n%s", file, got, want)
				}
			}
			for line := range strings.Lines(secrets) {
				if _, secret, _ := strings.Cut(strings.TrimSpace(line), "="); strings.Contains(p.log.String(), secret) {
					t.Errorf("a secret is in the log")
				}
			}
		})
	}
}

// exchange sends a recorded request and returns the answer in the format of the files with recorded answers.
func (p *process) exchange(file string) string {
	p.t.Helper()
	raw, err := os.ReadFile(file)
	must(p.t, err)
	req, err := gateway.ReadSample(raw)
	must(p.t, err)
	req.Header.Add("X-Forwarded-For", "192.0.2.9")
	req.URL.Scheme, req.URL.Host, req.RequestURI = "http", strings.TrimPrefix(p.base, "http://"), ""
	resp, err := p.http.Do(req)
	must(p.t, err)
	defer resp.Body.Close()
	got := gateway.Rehearsal{Status: resp.StatusCode}
	for name, v := range resp.Header {
		if name != "Date" && name != "Content-Length" {
			got.Header()[name] = v
		}
	}
	_, err = io.Copy(&got, resp.Body)
	must(p.t, err)
	return got.String()
}
