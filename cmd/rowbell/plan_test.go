package main

import (
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// planArgs are a plan with the flags that every test needs.
func planArgs(more string) []string {
	return append([]string{"plan"}, strings.Fields("--planted 2026-11-03 --row 25 --today 2026-11-25 "+more)...)
}

func TestPlanPicture(t *testing.T) {
	const golden = "../../engine/picture/season.svg" // the picture of the README
	file := filepath.Join(t.TempDir(), "season.svg")
	_, errs, code := runCommand(planArgs("--hill 25 --tool 15-20 --area 20x30 --temps 22-31 " +
		"--pass 2026-11-21:tool:both:few --saw 2026-11-20:2-3:many --saw 2026-11-23:fingers --inflow 2 --picture " +
		file)...)
	if code != 0 {
		t.Fatalf("exit code %d: %s", code, errs)
	}
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := xml.Unmarshal(got, new(struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	})); err != nil {
		t.Errorf("not an SVG document: %v", err)
	}
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if want, err := os.ReadFile(golden); err != nil || string(want) != string(got) {
		t.Errorf("%v: %s differs:\n%s", err, golden, firstDifference(string(want), string(got)))
	}
}

func TestPlanOutput(t *testing.T) {
	file := filepath.Join(t.TempDir(), "plan.json")
	out, errs, code := runCommand(planArgs("--json -o " + file)...)
	if code != 0 || out != "" {
		t.Fatalf("exit code %d, printed %q: %s", code, out, errs)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(b, &got); err != nil || got["on"] != "2026-11-25" {
		t.Errorf("%v in %s", err, b)
	}
	if out, _, code := runCommand(planArgs("-o -")...); code != 0 ||
		!strings.Contains(out, "Transplanted Tue 3 Nov 2026") {
		t.Errorf("exit code %d, printed %q", code, out)
	}
	for _, flag := range []string{"-o ", "--picture "} {
		if _, _, code := runCommand(planArgs(flag + filepath.Join(t.TempDir(), "no", "such", "folder"))...); code != 1 {
			t.Errorf("%sinto a folder that does not exist: exit code %d", flag, code)
		}
	}
	if _, errs, code := runCommand(planArgs("--tool wide")...); code != 2 ||
		!strings.Contains(errs, "Try: rowbell plan --help") {
		t.Errorf("a mistake in a flag: exit code %d: %s", code, errs)
	}
}
