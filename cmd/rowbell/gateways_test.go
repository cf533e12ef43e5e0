package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
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
	c, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	c.DB = filepath.Join(t.TempDir(), "rowbell.db")
	networks, err := c.Networks(env)
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
