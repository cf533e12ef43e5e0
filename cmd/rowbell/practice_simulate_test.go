package main

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
	run := func(f simulateFlags) string {
		t.Helper()
		var b bytes.Buffer
		if err := f.run(&b, now); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	said := run(simulateFlags{Simulate: 200, Growers: "honest", Year: "wet", Seed: 7, Rate: 1.1, Learn: 2})
	for _, want := range []string{"Growers: honest. Weather: an invented wet year, seed 7.", "200 plots of invented growers", "promises a yield", "without the bell", "first pass in time", "texts a plot", "A place that learns", "none of it a survey",
		"true rate", "how fast weeds go, to the table's clock", "lies saying weeded"} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in\n%s", want, said)
		}
	}
	if again := run(simulateFlags{Simulate: 200, Growers: "honest", Year: "wet", Seed: 7, Rate: 1.1, Learn: 2}); again != said {
		t.Error("the same seed plays another season")
	}
	if other := run(simulateFlags{Simulate: 200, Growers: "honest", Year: "wet", Seed: 8, Rate: 1.1}); other == said {
		t.Error("another seed plays the same")
	}
	// The invented year as a file is the invented year.
	named, filed := run(simulateFlags{Simulate: 100, Year: "dry"}), run(simulateFlags{Simulate: 100, Year: "../../testdata/weather/dry-2027.csv"})
	if table := func(s string) string {
		_, after, _ := strings.Cut(s, "\n")
		before, _, _ := strings.Cut(after, "What it rests on")
		return before
	}; table(named) != table(filed) {
		t.Errorf("by name\n%s\nby file\n%s", table(named), table(filed))
	}
	if filed := run(simulateFlags{Simulate: 100, Year: "../../testdata/weather/dry-2027.csv"}); !strings.Contains(filed, "days that it lacks") {
		t.Errorf("it is not said what fills the file's gaps:\n%s", filed)
	}
	if sloppy := run(simulateFlags{Simulate: 300, Growers: "sloppy"}); !strings.Contains(sloppy, "Here the bell does not help") {
		t.Errorf("it is not said where the bell does not help:\n%s", sloppy)
	}
}

func TestSimulateRefuses(t *testing.T) {
	spring := filepath.Join(t.TempDir(), "spring.csv")
	if err := os.WriteFile(spring, []byte("date,min_c,max_c\n2026-03-01,20,30\n2026-03-02,20,30\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		f    simulateFlags
		says string
	}{
		{simulateFlags{Growers: "honest"}, "say how many plots"},
		{simulateFlags{Simulate: -3}, "say how many plots"},
		{simulateFlags{Simulate: 1_000_000}, "plots"},
		{simulateFlags{Simulate: 10, Growers: "perfect"}, `--growers "perfect" is not one of usual, honest, sloppy, lying`},
		{simulateFlags{Simulate: 10, Year: "snow"}, `--year "snow" is not one of normal, dry, wet, cool`},
		{simulateFlags{Simulate: 10, Year: "practice.go"}, "line"},
		{simulateFlags{Simulate: 10, Year: spring}, "its days end on 2026-03-02, before planting would begin"},
		{simulateFlags{Simulate: 10, Rate: 9}, "rate"},
		{simulateFlags{Simulate: 10, Learn: -1}, "--learn -1"},
		{simulateFlags{Simulate: 10, Learn: 1000}, "seasons"},
	} {
		var b bytes.Buffer
		err := c.f.run(&b, time.Unix(1_800_000_000, 0))
		var usage *usageError
		if !errors.As(err, &usage) || !strings.Contains(err.Error(), c.says) || b.Len() > 0 {
			t.Errorf("%+v: %v, %q", c.f, err, b.String())
		}
	}
	if (simulateFlags{}).asked() || !(simulateFlags{Seed: 1}).asked() {
		t.Error("the flags do not say whether they were given")
	}
}
