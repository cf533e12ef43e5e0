package practice

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestSimulate(t *testing.T) {
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	run := func(f Simulation) string {
		t.Helper()
		var b bytes.Buffer
		steps := 0
		if err := f.Run(&b, now, func(done, total int) {
			if steps++; done != steps || total != (2+f.Learn)*f.Simulate {
				t.Fatalf("step %d is told as %d of %d", steps, done, total)
			}
		}); err != nil {
			t.Fatal(err)
		}
		if want := (2 + f.Learn) * f.Simulate; steps != want {
			t.Errorf("%d steps, want %d", steps, want)
		}
		return b.String()
	}
	honest := Simulation{Simulate: 100, Growers: "honest", Year: "wet", Water: "moist", Habit: "21", Seed: 7, Rate: 1.1,
		Learn: 2}
	said := run(honest)
	for _, want := range []string{
		"Growers: honest. Weather: an invented wet year, seed 7.\nWater: moist. Weed clock: all, each",
		"100 plots of invented growers",
		"promises a yield", "without the bell", "first pass in time", "texts a plot",
		"A place that learns", "none of it a survey", "growers weeded when it said", "looks a plot",
		"true rate", "how fast the weeds of the place grow", "lies saying weeded", "Here the bell helps."} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in\n%s", want, said)
		}
	}
	if again := run(honest); again != said {
		t.Error("the same seed plays another season")
	}
	if other := run(Simulation{Simulate: 100, Growers: "honest", Year: "wet", Water: "moist", Habit: "21", Seed: 8,
		Rate: 1.1}); other == said {
		t.Error("another seed plays the same")
	}
	// The file has the same days as the year "dry", so the result must be the same.
	named := run(Simulation{Simulate: 100, Year: "dry"})
	filed := run(Simulation{Simulate: 100, Year: "../../../testdata/weather/dry-2027.csv"})
	if table := func(s string) string {
		_, after, _ := strings.Cut(s, "\n")
		before, _, _ := strings.Cut(after, "What it rests on")
		return before
	}; table(named) != table(filed) {
		t.Errorf("by name\n%s\nby file\n%s", table(named), table(filed))
	}
	if !strings.Contains(filed, "days that it lacks") {
		t.Errorf("it is not said what fills the file's gaps:\n%s", filed)
	}
	cool := run(Simulation{Simulate: 20, Year: "19", Clock: "fast"})
	if !strings.Contains(cool, "19 degrees all year") {
		t.Errorf("the weather is not told:\n%s", cool)
	}
}

func TestCompare(t *testing.T) {
	var b bytes.Buffer
	last := 0
	s := Simulation{Simulate: 5, Compare: 4, Habit: "16-18"}
	ok(t, s.Run(&b, time.Unix(1_800_000_000, 0), func(done, total int) {
		if last++; done != last || total != 10+75 {
			t.Fatalf("step %d is told as %d of %d", last, done, total)
		}
	}))
	for _, want := range []string{"5 plots of invented growers", "4 invented plots of each kind, seed 0", "habit 16-18",
		"Where growers look, the bell is worse than habit", "slow leaves  27-43"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	if lines := strings.Count(b.String(), "\n"); lines < 15+75+10 {
		t.Errorf("%d lines", lines)
	}
}

func TestSimulateRefuses(t *testing.T) {
	spring := filepath.Join(t.TempDir(), "spring.csv")
	const file = "date,min_c,max_c\n2026-03-01,20,30\n2026-03-02,20,30\n"
	ok(t, os.WriteFile(spring, []byte(file), 0o600))
	for _, c := range []struct {
		f    Simulation
		says string
	}{
		{Simulation{Growers: "honest"}, "say how many plots"},
		{Simulation{Simulate: -3}, "say how many plots"},
		{Simulation{Simulate: 1_000_000}, "plots"},
		{Simulation{Compare: -1}, "say how many plots"},
		{Simulation{Compare: 1_000_000}, "plots"},
		{Simulation{Simulate: 10, Water: "salt"}, `--water "salt" is not one of kept, on-off, moist`},
		{Simulation{Simulate: 10, Habit: "never"}, `habit "never"`},
		{Simulation{Simulate: 10, Clock: "sundial"}, `no clock "sundial"`},
		{Simulation{Simulate: 10, Year: "35"}, "no degrees from 15 to 31"},
		{Simulation{Simulate: 10, Growers: "perfect"},
			`--growers "perfect" is not one of usual, honest, sloppy, lying, blind`},
		{Simulation{Simulate: 10, Year: "snow"}, `--year "snow" is not one of normal, dry, wet, cool`},
		{Simulation{Simulate: 10, Year: "practice.go"}, "line"},
		{Simulation{Simulate: 10, Year: spring}, "its days end on 2026-03-02, before planting would begin"},
		{Simulation{Simulate: 10, Rate: 9}, "rate"},
		{Simulation{Simulate: 10, Learn: -1}, "--learn -1"},
		{Simulation{Simulate: 10, Learn: 1000}, "seasons"},
	} {
		var b bytes.Buffer
		err := c.f.Run(&b, time.Unix(1_800_000_000, 0), func(int, int) {})
		var wrong *InputError
		if !errors.As(err, &wrong) || !strings.Contains(err.Error(), c.says) || b.Len() > 0 {
			t.Errorf("%+v: %v, %q", c.f, err, b.String())
		}
	}
}
