package simulate

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/engine"
)

var update = flag.Bool("update", false, "write testdata/weather anew")

// The files in testdata/weather must be equal to what WriteYear writes.
func TestTheInventedYearsAreAsInvented(t *testing.T) {
	for _, kind := range []Kind{Normal, Dry, Wet, Cool} {
		var made bytes.Buffer
		if err := WriteYear(&made,
			fmt.Sprintf("Invented weather: a %s year of an invented valley. Nobody measured it.", kind),
			Year(kind, 2027)); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("..", "..", "testdata", "weather", kind.String()+"-2027.csv")
		if *update {
			if err := os.WriteFile(path, made.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		kept := must(os.ReadFile(path))
		if !bytes.Equal(kept, made.Bytes()) {
			t.Errorf("%s is not what Year makes; run with -update if that is meant", path)
		}
		if lines := strings.Split(string(kept), "\n"); len(lines) != 2+365+1 ||
			!strings.HasPrefix(lines[0], "# Invented") ||
			lines[1] != "date,min_c,max_c,rain_mm" || !strings.HasPrefix(lines[2], "2027-01-01,") {
			t.Errorf("%s: %d lines, %q, %q, %q", path, len(lines), lines[0], lines[1], lines[2])
		}
	}
}

func TestYearsAreOfTheirKind(t *testing.T) {
	mean := func(y engine.Daily) (c, rain float64) {
		for _, d := range y.Days {
			c += (d.MinC + d.MaxC) / 2 / float64(len(y.Days))
			rain += d.RainMM
		}
		return c, rain
	}
	usual, usualRain := mean(Year(Normal, 2027))
	dry, dryRain := mean(Year(Dry, 2027))
	wet, wetRain := mean(Year(Wet, 2027))
	cool, _ := mean(Year(Cool, 2027))
	if !(cool < wet && wet < usual && usual < dry) {
		t.Errorf("cool %.1f, wet %.1f, usual %.1f, dry %.1f °C", cool, wet, usual, dry)
	}
	if !(dryRain < usualRain && usualRain < wetRain) {
		t.Errorf("rain: dry %.0f, usual %.0f, wet %.0f mm", dryRain, usualRain, wetRain)
	}
	for _, calendar := range []int{2027, 2028} {
		for _, k := range []Kind{Normal, Dry, Wet, Cool, 200} {
			y := Year(k, calendar)
			if want := int(engine.Date(calendar+1, 1, 1) - engine.Date(calendar, 1, 1)); len(y.Days) != want ||
				y.From != engine.Date(calendar, 1, 1) {
				t.Errorf("%s %d: %d days from %s", k, calendar, len(y.Days), y.From)
			}
			for i, d := range y.Days {
				if !(d.MinC+leastRange <= d.MaxC+1e-9) || d.MinC < 5 || d.MaxC > 45 || d.RainMM < 0 {
					t.Errorf("%s: %+v", y.From+engine.Day(i), d)
				}
			}
		}
	}
}

func TestWriteYear(t *testing.T) {
	var out bytes.Buffer
	y := engine.Daily{From: engine.Date(2027, 2, 28), Days: []engine.Measured{{MinC: 20.04, MaxC: 31, RainMM: 0},
		engine.Unmeasured()}}
	if err := WriteYear(&out, "two days", y); err != nil {
		t.Fatal(err)
	}
	if want := "# two days\ndate,min_c,max_c,rain_mm\n2027-02-28,20.0,31.0,0.0\n2027-03-01,,,\n"; out.String() != want {
		t.Errorf("%q", out.String())
	}
	if err := WriteYear(full{}, "", y); !errors.Is(err, errFull) {
		t.Errorf("on a full disk: %v", err)
	}
	for want, got := range map[string]string{"dry": Dry.String(), "9?": Kind(9).String()} {
		if got != want {
			t.Errorf("%q", got)
		}
	}
}

type full struct{}

var errFull = errors.New("no room")

func (full) Write([]byte) (int, error) { return 0, errFull }
