package menu

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// wednesday is the day on which most of these tests take place.
var wednesday = engine.Date(2026, time.November, 25)

// Numbers as English screens show them.

func numberEN(x float64) string    { return figures(number(x)) }
func writtenEN(x float64) string   { return figures(written(x)) }
func estimatedEN(x float64) string { return figures(estimated(x)) }

func figures(d text.Decimal) string { return strconv.FormatFloat(d.Value, 'f', -1, 64) }

func TestEstimated(t *testing.T) {
	for x, want := range map[float64]string{
		0: "0", 0.354: "0.35", 2.44: "2.4", 9.96: "10", 12.4: "12", 999.4: "999", 999.7: "1000", 1230: "1230",
		1234: "1230", 12345: "12300", 123456: "123000", 9.995e9: "10000000000",
	} {
		if got := estimatedEN(x); got != want {
			t.Errorf("%g: %s, want %s", x, got, want)
		}
	}
}

// typedByGrowers reads a file of entries (package answer's tests say how it is
// laid out) into what is understood and what is refused.
func typedByGrowers(t testing.TB, file string) (good, bad []string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../testdata/answers", file+".txt"))
	if err != nil {
		t.Fatal(err)
	}
	into := &good
	for line := range strings.Lines(string(b)) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "# refused"):
			into = &bad
		case line != "" && !strings.HasPrefix(line, "#"):
			*into = append(*into, line)
		}
	}
	return good, bad
}

// readDate reads a planting date with the words of a language.
func readDate(m *Menu, lang, entry string) (engine.Day, answer.Doubt[engine.Day], *Refusal) {
	return answer.Date(entry, wednesday, answer.PlantedReach, m.dates[lang])
}
