package config

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const gatewaysDir = "../../../testdata/gateways/"

// sampleSecrets is the environment of the recorded requests: invented secrets.
func sampleSecrets(t *testing.T) func(string) string {
	t.Helper()
	b, err := os.ReadFile(gatewaysDir + "secrets.env")
	if err != nil {
		t.Fatal(err)
	}
	env := map[string]string{}
	for line := range strings.Lines(string(b)) {
		name, value, _ := strings.Cut(strings.TrimSpace(line), "=")
		env[name] = value
	}
	return func(name string) string { return env[name] }
}

// A start without a secret says which is missing, and no mistake shows one.
func TestGatewaysWantTheirSecrets(t *testing.T) {
	c, err := Load(gatewaysDir + "heron.toml")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(file, []byte("reed-and-water\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	all := sampleSecrets(t)
	for _, tt := range []struct {
		name string
		set  map[string]string // over the samples'
		want string            // "" = it starts
	}{
		{"all there", nil, ""},
		{"one missing", map[string]string{"HERON_SECRET_OLD": ""}, "gateways.heron: trust: secrets: HERON_SECRET_OLD is not set"},
		{"one in a file", map[string]string{"HERON_SEND": "", "HERON_SEND_FILE": file}, ""},
		{"twice", map[string]string{"HERON_SEND_FILE": file}, "HERON_SEND and HERON_SEND_FILE are both set"},
		{"no such file", map[string]string{"HERON_SEND": "", "HERON_SEND_FILE": file + "x"}, "HERON_SEND_FILE"},
		{"too short to sign", map[string]string{"HERON_SECRET": "whsec_c2hvcnQ="}, "HERON_SECRET: it is not whsec_"},
	} {
		_, err := c.Networks(func(name string) string {
			if v, ok := tt.set[name]; ok {
				return v
			}
			return all(name)
		})
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
		if err != nil && strings.Contains(fmt.Sprint(err), "c2hvcnQ") {
			t.Errorf("%s: the secret is in the error", tt.name)
		}
	}
}

// A secret that stands where it does not belong is not repeated by the error
// that says so.
func TestMisplacedSecretsAreNotRepeated(t *testing.T) {
	const secret = "whsec_cGFkZHktYmVsbC1zYW1wbGUtc2VjcmV0LTAx"
	for name, file := range map[string]string{
		"in place of a list":          "[gateways.heron.trust]\nby = \"signature\"\nsecrets = \"" + secret + "\"\n",
		"as a name":                   "[gateways.heron.trust]\nby = \"signature\"\nsecrets = [\"" + secret + "\"]\n",
		"under another key":           "[gateways.heron.trust]\nby = \"bearer\"\ntoken = \"" + secret + "\"\n",
		"beside trust":                "[gateways.heron]\nbearer = \"" + secret + "\"\n",
		"in one line":                 "[gateways]\nheron = { trust = { by = \"bearer\", secret = \"" + secret + "\" } }\n",
		"in one line, at the top":     "gateways.heron.trust.secret = \"" + secret + "\"\n",
		"in a header that stays open": "[gateways.heron.push.headers]\nAuthorization = \"" + secret + "\n",
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse([]byte(file))
			if err == nil {
				t.Fatal("it is taken")
			}
			if strings.Contains(err.Error(), secret) {
				t.Errorf("%v", err)
			}
		})
	}
	env := map[string]string{"HERON_SECRET_FILE": secret}
	if _, err := Secrets(func(name string) string { return env[name] })("HERON_SECRET"); err == nil || strings.Contains(err.Error(), secret) {
		t.Errorf("a secret for a path: %v", err)
	}
}
