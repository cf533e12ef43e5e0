package doctor

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
)

// A request that is in no file is read as one in a file.
func TestReplayRecorded(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(configtest.Samples(), "heron", "*.http"))
	ok(t, err)
	if len(files) == 0 {
		t.Fatal("no recorded requests")
	}
	file := files[0]
	network := filepath.Base(filepath.Dir(file))
	raw, err := os.ReadFile(file)
	ok(t, err)
	said := func(rec Recording) string {
		var out bytes.Buffer
		rec.Network, rec.Now, rec.From = network, configtest.SampleTime, "192.0.2.9"
		c := configtest.Fresh(t, configtest.Sample(t, network+".toml"))
		err := Replay(t.Context(), &out, c, configtest.Secrets(t), rec)
		_, rest, _ := strings.Cut(out.String(), "\n")
		if err != nil {
			rest += err.Error()
		}
		return rest
	}
	if a, b := said(Recording{Files: files[:1]}), said(Recording{Recorded: raw}); a != b || len(a) < 20 {
		t.Errorf("from a file:\n%s\nas it is:\n%s", a, b)
	}
}
