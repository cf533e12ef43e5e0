package main

import (
	"bytes"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/config/configtest"
)

// Secrets that can be guessed, or that two networks share, are told of by the
// names of their variables.
func TestDoctorLooksAtSecrets(t *testing.T) {
	const file = "[gateways.heron.trust]\nby = \"bearer\"\nsecrets = [\"HERON\"]\n[gateways.tern.trust]\nby = \"bearer\"\nsecrets = [\"TERN\", \"TERN_OLD\"]\n"
	const good, other, short = "reed-and-water-and-reed", "water-and-reed-and-water", "flat-blade"
	for _, tt := range []struct {
		name, heron, tern, old string
		want                   string // "": nothing is wrong
	}{
		{"all well", good, other, other, ""},
		{"short", good, other, short, "the secret in TERN_OLD is short"},
		{"shared", good, other, good, "TERN_OLD is the secret of the gateway heron too"},
		{"not there", "", other, other, "HERON is not set"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			env := map[string]string{"HERON": tt.heron, "TERN": tt.tern, "TERN_OLD": tt.old}
			k := &checkup{ctx: t.Context(), env: func(name string) string { return env[name] }, now: configtest.SampleTime}
			var err error
			if k.conf, err = config.Parse([]byte(file)); err != nil {
				t.Fatal(err)
			}
			k.gateways(true)
			var said bytes.Buffer
			_ = k.report(&said)
			if tt.want == "" && (strings.Contains(said.String(), "short") || strings.Contains(said.String(), "too:")) || !strings.Contains(said.String(), tt.want) {
				t.Errorf("%s\nwant %q in it", said.String(), tt.want)
			}
			for _, secret := range []string{good, other, short} {
				if strings.Contains(said.String(), secret) {
					t.Errorf("a secret is shown: %s", said.String())
				}
			}
		})
	}
}
