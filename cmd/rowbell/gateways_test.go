package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
)

const gatewaysDir = "../../testdata/gateways/"

// sampleSecrets are the invented secrets that the recorded requests show.
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

// sampleTime is when the requests were recorded: their signatures hold it.
var sampleTime = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// startSample starts the service as an invented network's file describes it, on
// fresh records, until the test ends.
func startSample(t *testing.T, file string, env func(string) string) (*service, profile.Profile) {
	t.Helper()
	c, err := loadConfig(file)
	if err != nil {
		t.Fatal(err)
	}
	c.DB = filepath.Join(t.TempDir(), "rowbell.db")
	networks, err := c.networks(env)
	if err != nil {
		t.Fatal(err)
	}
	s, err := startService(t.Context(), c, networks, clock.New(sampleTime), zerolog.Nop())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.close(); err != nil {
			t.Error(err)
		}
	})
	return s, networks[0]
}

// Each invented network's recorded requests, in order of their names, get the
// answers that stand beside them, from the whole service on fresh records.
//
//	go test ./cmd/rowbell -run GatewaySamples -update    # write the answers anew; read them before you keep them
func TestGatewaySamples(t *testing.T) {
	files, err := filepath.Glob(gatewaysDir + "*.toml")
	if err != nil || len(files) < 6 {
		t.Fatalf("%d networks found, %v", len(files), err)
	}
	env := sampleSecrets(t)
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".toml")
		t.Run(name, func(t *testing.T) {
			s, network := startSample(t, file, env)
			requests, err := filepath.Glob(strings.TrimSuffix(file, ".toml") + "/*.http")
			if err != nil || len(requests) < 4 {
				t.Fatalf("%d recorded requests, %v", len(requests), err)
			}
			for _, request := range requests {
				playSample(t, s, network, request)
			}
		})
	}
}

func playSample(t *testing.T, s *service, p profile.Profile, request string) {
	t.Helper()
	raw, err := os.ReadFile(request)
	if err != nil {
		t.Fatal(err)
	}
	r, err := gateway.ReadSample(raw)
	if err != nil {
		t.Fatalf("%s: %v", request, err)
	}
	r.RemoteAddr = "192.0.2.9:4000"
	understood, err := gateway.Understand(p, r, sampleTime)
	if understood.Denied != nil {
		t.Errorf("%s: not let in: %v", request, understood.Denied)
	}
	var got gateway.Rehearsal
	s.handler.ServeHTTP(&got, r)
	if refused := err != nil || understood.Wrong != nil; refused && got.Status != 400 {
		t.Errorf("%s: answered %d, and understood: %v, %v", request, got.Status, err, understood.Wrong)
	}
	file := strings.TrimSuffix(request, ".http") + ".answer"
	if *update {
		if err := os.WriteFile(file, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got.String() != string(want) {
		t.Errorf("%s:\n%s\nwant\n%s", request, got.String(), want)
	}
}

// A caller that shows nothing, or what another network shows, is let in by
// none of them.
func TestGatewaySamplesDenyStrangers(t *testing.T) {
	env := sampleSecrets(t)
	for name, want := range map[string]int{"heron": 401, "kiln": 401, "tern": 403, "marl": 401, "adze": 401, "weir": 403} {
		s, _ := startSample(t, gatewaysDir+name+".toml", env)
		requests, err := filepath.Glob(gatewaysDir + name + "/ussd-*1-*.http")
		if err != nil || len(requests) == 0 {
			t.Fatalf("%s: no first request, %v", name, err)
		}
		raw, err := os.ReadFile(requests[0])
		if err != nil {
			t.Fatal(err)
		}
		r, err := gateway.ReadSample(raw)
		if err != nil {
			t.Fatal(err)
		}
		r.RemoteAddr = "198.51.100.7:4000"
		r.Header.Set("Authorization", "Bearer none-of-these")
		r.Header.Set("webhook-id", "another")
		var got gateway.Rehearsal
		s.handler.ServeHTTP(&got, r)
		if got.Status != want {
			t.Errorf("%s: %d, want %d: %s", name, got.Status, want, got.Body.String())
		}
	}
}

// A start without a secret says which is missing, and no mistake shows one.
func TestGatewaysWantTheirSecrets(t *testing.T) {
	c, err := loadConfig(gatewaysDir + "heron.toml")
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
		_, err := c.networks(func(name string) string {
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
			c, err := loadConfig("")
			if err != nil {
				t.Fatal(err)
			}
			if err = parseConfig([]byte(file), &c); err == nil {
				t.Fatal("it is taken")
			}
			if strings.Contains(err.Error(), secret) {
				t.Errorf("%v", err)
			}
		})
	}
	env := map[string]string{"HERON_SECRET_FILE": secret}
	if _, err := secrets(func(name string) string { return env[name] })("HERON_SECRET"); err == nil || strings.Contains(err.Error(), secret) {
		t.Errorf("a secret for a path: %v", err)
	}
}
