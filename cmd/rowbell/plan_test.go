package main

import (
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func planArgs(more string) []string {
	return append([]string{"plan"}, strings.Fields("--planted 2026-11-03 --row 25 --today 2026-11-25 "+more)...)
}

func TestPlanPicture(t *testing.T) {
	const golden = "../../engine/picture/season.svg" // the picture in the README
	file := filepath.Join(t.TempDir(), "season.svg")
	prints(t, planArgs("--hill 25 --tool 15-20 --area 20x30 --temps 22-31 "+
		"--pass 2026-11-21:tool:both:few --saw 2026-11-20:2-3:many --saw 2026-11-23:fingers --inflow 2 --picture "+
		file)...)
	got, err := os.ReadFile(file)
	must(t, err)
	if err := xml.Unmarshal(got, new(struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	})); err != nil {
		t.Errorf("not an SVG document: %v", err)
	}
	if *update {
		must(t, os.WriteFile(golden, got, 0o644))
	}
	if want, err := os.ReadFile(golden); err != nil || string(want) != string(got) {
		t.Errorf("%v: %s differs:\n%s", err, golden, firstDifference(string(want), string(got)))
	}
}

func TestPlanOutput(t *testing.T) {
	file := filepath.Join(t.TempDir(), "plan.json")
	if out := prints(t, planArgs("--json -o "+file)...); out != "" {
		t.Errorf("printed %q", out)
	}
	b, err := os.ReadFile(file)
	must(t, err)
	var got map[string]any
	if err := json.Unmarshal(b, &got); err != nil || got["on"] != "2026-11-25" {
		t.Errorf("%v in %s", err, b)
	}
	nowhere := filepath.Join(t.TempDir(), "no", "such", "folder")
	runSteps(t, strings.Join(planArgs(""), " "), []shellStep{
		{"-o -", 0, "Transplanted Tue 3 Nov 2026"},
		{"-o " + nowhere, 1, "no such file"},
		{"--picture " + nowhere, 1, "no such file"},
		{"--tool wide", 2, "Try: rowbell plan --help"},
	})
}
