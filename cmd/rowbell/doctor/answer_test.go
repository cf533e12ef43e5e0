package doctor

import (
	"bytes"
	"compress/gzip"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
)

var update = flag.Bool("update", false, "write anew what recorded answers mean")

// The file push.verdicts of each invented network says what the recorded answers mean. Read it after this command:
//
//	go test ./cmd/rowbell/doctor -run SampleAnswers -update    # writes the files push.verdicts again
func TestSampleAnswers(t *testing.T) {
	played := 0
	for name := range configtest.Networks(t) {
		files, err := filepath.Glob(filepath.Join(configtest.Samples(), name, "push-*.response"))
		ok(t, err)
		if played += len(files); len(files) == 0 {
			continue // no answers of this network are recorded
		}
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			c := configtest.Fresh(t, configtest.Sample(t, name+".toml"))
			ok(t, Answers(&out, c, configtest.Secrets(t),
				Recording{Network: name, Files: files, Now: configtest.SampleTime}))
			golden := filepath.Join(configtest.Samples(), name, "push.verdicts")
			if *update {
				ok(t, os.WriteFile(golden, out.Bytes(), 0o644))
			}
			want, err := os.ReadFile(golden)
			ok(t, err)
			if out.String() != string(want) {
				t.Errorf("got\n%s\nwant\n%s", out.String(), want)
			}
		})
	}
	if played < 110 {
		t.Errorf("only %d recorded answers", played)
	}
}

// Answers understands an answer in each way in which programs record it.
func TestReadAnswer(t *testing.T) {
	var zipped bytes.Buffer
	z := gzip.NewWriter(&zipped)
	fmt.Fprint(z, "cart=c-17")
	ok(t, z.Close())
	for name, tt := range map[string]struct{ raw, says string }{
		"line feeds":        {"HTTP/1.1 200 OK\nContent-Length: 9\n\ncart=c-17", `"c-17"`},
		"a line feed added": {"HTTP/1.1 200 OK\nContent-Length: 9\n\ncart=c-17\n", `"c-17"`},
		"CRLF":              {"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\ncart=c-17", `"c-17"`},
		"HTTP/2":            {"HTTP/2 200 \r\ndate: x\r\n\r\ncart=c-17", `"c-17"`},
		"after a 100":       {"HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 200 OK\r\n\r\ncart=c-17", `"c-17"`},
		"in chunks": {"HTTP/1.1 200 OK\nTransfer-Encoding: chunked\n\n9\r\ncart=c-17\r\n0\r\n\r\n",
			`"c-17"`},
		"chunks joined":        {"HTTP/1.1 200 OK\nTransfer-Encoding: chunked\n\ncart=c-17", `"c-17"`},
		"gzip":                 {"HTTP/1.1 200 OK\nContent-Encoding: gzip\n\n" + zipped.String(), `"c-17"`},
		"gzip, unpacked":       {"HTTP/1.1 200 OK\nContent-Encoding: gzip\nContent-Length: 33\n\ncart=c-17", `"c-17"`},
		"gzip that ends":       {"HTTP/1.1 200 OK\nContent-Encoding: gzip\n\n" + zipped.String()[:20], "breaks off"},
		"another compression":  {"HTTP/1.1 200 OK\nContent-Encoding: br\n\n\x8b%\x01", "compressed in a way"},
		"cut off":              {"HTTP/1.1 200 OK\nContent-Length: 20\n\ncart=c-17", "the answer breaks off"},
		"too long":             {"HTTP/1.1 200 OK\n\ncart=c-17&x=" + strings.Repeat("x", 64<<10), "longer than 64 KiB"},
		"no body":              {"HTTP/1.1 204 No Content\n\n", "the answer has no body"},
		"the head alone":       {"HTTP/1.1 503 Busy\nA: b\n", "the status 503 alone"},
		"a wait":               {"HTTP/1.1 503 Busy\nRetry-After: 90\n\n", "1m30s at least"},
		"a wait of ten years":  {"HTTP/1.1 503 Busy\nRetry-After: 315360000\n\n", "as usual: Retry-After is"},
		"not an answer":        {"POST / HTTP/1.1\n\nx", "!this is not a recorded HTTP answer"},
		"interim answers only": {"HTTP/1.1 100 Continue\n\n", "!this is not a recorded HTTP answer"},
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			c := configtest.Fresh(t, configtest.Sample(t, "marl.toml"))
			file := write(t, t.TempDir(), "answer", tt.raw, 0o600)
			err := Answers(&out, c, configtest.Secrets(t),
				Recording{Network: "marl", Files: []string{file}, Now: configtest.SampleTime})
			got := out.String()
			if err != nil {
				got = "!" + err.Error()
			}
			want, fails := strings.CutPrefix(tt.says, "!")
			if !strings.Contains(got, want) || fails != (err != nil) {
				t.Errorf("%q: %s", tt.says, got)
			}
		})
	}
}
