package service

import (
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/gateway"
	"rowbell/gateway/profile"
)

var update = flag.Bool("update", false, "write the answers to recorded requests anew")

func startSample(t *testing.T, toml string) (*started, profile.Profile) {
	t.Helper()
	c := configtest.Fresh(t, toml)
	networks, err := c.Networks(configtest.Secrets(t))
	ok(t, err)
	return start(t, c, configtest.SampleTime, configtest.Secrets(t)), networks[0]
}

// recorded reads a recorded HTTP request with remote as the address of its sender.
func recorded(t *testing.T, file, remote string) *http.Request {
	t.Helper()
	raw, err := os.ReadFile(file)
	ok(t, err)
	r, err := gateway.ReadSample(raw)
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	r.RemoteAddr = remote
	return r
}

// For each invented network, the whole service, started with new records, gets the recorded requests in the order of
// their file names. Each answer must be the one in the .answer file. In a whole dialogue, the network also gets the
// texts of the .push files. It refuses some of them, and most networks send receipts for others. Read the files after
// this command:
//
//	go test ./cmd/rowbell/service -run GatewaySamples -update    # writes the files .answer, .push and .texts again
func TestGatewaySamples(t *testing.T) {
	dialogues := 0
	for name := range configtest.Networks(t) {
		steps, whole := configtest.Dialogue(t, name)
		if whole {
			dialogues++
		}
		t.Run(name, func(t *testing.T) {
			n := configtest.NewNetwork(t)
			s, network := startSample(t, n.Description(t, name))
			for _, step := range steps {
				switch step.Kind {
				case ".http":
					playSample(t, s, network, step.File)
				case ".push":
					playPush(t, s, n, step)
				default:
					compare(t, step.File, s.became())
				}
			}
		})
	}
	if dialogues < 16 {
		t.Errorf("only %d networks play whole dialogues", dialogues)
	}
}

func playSample(t *testing.T, s *started, p profile.Profile, request string) {
	t.Helper()
	r := recorded(t, request, "192.0.2.9:4000")
	understood, err := gateway.Understand(p, r, s.clock.Now())
	if understood.Denied != nil {
		t.Errorf("%s: not let in: %v", request, understood.Denied)
	}
	var got gateway.Rehearsal
	s.Handler().ServeHTTP(&got, r)
	// A request with several items may be accepted although some of them are refused.
	refused := err != nil || understood.Wrong() != nil && !understood.Batch
	if refused && got.Status != 400 {
		t.Errorf("%s: answered %d, and understood: %v, %v", request, got.Status, err, understood.Wrong())
	}
	file := strings.TrimSuffix(request, ".http") + ".answer"
	compare(t, file, got.String())
}

// A request without valid credentials for this network is refused.
func TestGatewaySamplesDenyStrangers(t *testing.T) {
	for name, want := range map[string]int{"heron": 401, "kiln": 401, "tern": 403, "marl": 401, "adze": 401,
		"weir": 403, "loom": 401, "thatch": 401, "anvil": 403, "gale": 403, "dew": 401, "osier": 401, "churn": 401,
		"scythe": 401, "loess": 401, "frost": 401} {
		s, _ := startSample(t, configtest.Sample(t, name+".toml"))
		requests, err := filepath.Glob(filepath.Join(configtest.Samples(), name, "*ussd-*.http"))
		if err != nil || len(requests) == 0 {
			t.Fatalf("%s: no first request, %v", name, err)
		}
		r := recorded(t, requests[0], "198.51.100.7:4000")
		r.Header.Set("Authorization", "Bearer none-of-these")
		r.Header.Set("webhook-id", "another")
		r.Header.Set("X-Adze-Mark", "mark 00")
		r.Header.Set("X-Thatch-Peg", "AAAA")
		r.Header.Set("X-Churn-Lid", "lid=00")
		r.Header.Set("X-Frost-Crystal", "six AAAA")
		if got := s.answer(r); got.Code != want {
			t.Errorf("%s: %d, want %d: %s", name, got.Code, want, got.Body)
		}
	}
}

// The network takes texts of one SMS segment. A Portuguese text fits in one segment either with the operator's shift
// table or without its accents. The pushed request contains the segments and the alphabet, because both affect the
// price.
func TestShiftTablesCountOnTheWayOut(t *testing.T) {
	var pushed []string
	network := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		b, err := io.ReadAll(r.Body)
		pushed = append(pushed, string(b))
		if err != nil {
			t.Error(err)
		}
	}))
	defer network.Close()
	for name, tt := range map[string]struct{ tables, want string }{
		"with the tables":    {"[texts.shift_tables]\npt = [3]\n", "Febre ou ferida: vá a um"},
		"without the tables": {"", "Febre ou ferida: va a um"}, // in the default alphabet, without accents
	} {
		t.Run(name, func(t *testing.T) {
			pushed = nil
			s, _ := startSample(t, fmt.Sprintf(`country_code = "44"
[texts]
languages = ["pt"]
%s
[gateways.heron]
trust = { by = "bearer", secrets = ["HERON_SECRET"] }
[gateways.heron.push]
url = %q
type = "text/plain"
body = "{{.Segments}} {{.Alphabet}} {{.Text}} {{.To}}"
segments = 1
`, tt.tables, network.URL))
			r := call("/in/heron/sms", `{"id":"1","phone":"+447700900001","text":"AJUDA"}`)
			r.Header.Set("Authorization", "Bearer "+configtest.Secrets(t)("HERON_SECRET"))
			if w := s.answer(r); w.Code != http.StatusAccepted {
				t.Fatalf("%d: %s", w.Code, w.Body)
			}
			ok(t, s.Settle(t.Context()))
			got := strings.Join(pushed, "\n")
			if !strings.HasPrefix(got, "1 gsm7 rowbell diz quando capinar") || !strings.Contains(got, tt.want) {
				t.Errorf("the network got %q, want a text of one segment with %q", got, tt.want)
			}
		})
	}
}
