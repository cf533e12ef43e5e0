package service

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/gateway"
	"rowbell/gateway/profile"
)

var update = flag.Bool("update", false, "write the answers to recorded requests anew")

// startSample starts a service with an invented network of testdata/gateways.
func startSample(t *testing.T, file string) (*started, profile.Profile) {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	c := configtest.Fresh(t, string(b))
	networks, err := c.Networks(configtest.Secrets(t))
	if err != nil {
		t.Fatal(err)
	}
	return start(t, c, configtest.SampleTime, configtest.Secrets(t)), networks[0]
}

// Each invented network's recorded requests, in order of their names, get the
// answers that stand beside them, from the whole service on fresh records.
//
//	go test ./cmd/rowbell/service -run GatewaySamples -update    # write the answers anew; read them before you keep them
func TestGatewaySamples(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(configtest.Samples(), "*.toml"))
	if err != nil || len(files) < 6 {
		t.Fatalf("%d networks found, %v", len(files), err)
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".toml")
		t.Run(name, func(t *testing.T) {
			s, network := startSample(t, file)
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

func playSample(t *testing.T, s *started, p profile.Profile, request string) {
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
	understood, err := gateway.Understand(p, r, configtest.SampleTime)
	if understood.Denied != nil {
		t.Errorf("%s: not let in: %v", request, understood.Denied)
	}
	var got gateway.Rehearsal
	s.Handler().ServeHTTP(&got, r)
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

// No network admits a caller without credentials, or with those of another
// network.
func TestGatewaySamplesDenyStrangers(t *testing.T) {
	for name, want := range map[string]int{"heron": 401, "kiln": 401, "tern": 403, "marl": 401, "adze": 401, "weir": 403} {
		s, _ := startSample(t, filepath.Join(configtest.Samples(), name+".toml"))
		requests, err := filepath.Glob(filepath.Join(configtest.Samples(), name, "ussd-*1-*.http"))
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
		s.Handler().ServeHTTP(&got, r)
		if got.Status != want {
			t.Errorf("%s: %d, want %d: %s", name, got.Status, want, got.Body.String())
		}
	}
}
