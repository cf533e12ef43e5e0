package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const (
	circleCSV  = "../../testdata/roster/circle.csv"
	crowdedCSV = "../../testdata/roster/crowded.csv"
)

func TestRosterCommand(t *testing.T) {
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.csv")
	must(t, os.WriteFile(bad, []byte("what,name,planted\nplot,Amina,soon\ntool,,\n"), 0o600))
	runSteps(t, "roster", []shellStep{
		{circleCSV + " --today 2026-11-26", 0, "Days Thu 26 Nov 2026 to … In time 7 of 7 plots … Turns … Blue … Red"},
		{circleCSV + " --today 2026-11-26 --explain", 0, "Why these days … alone it would have"},
		{crowdedCSV + " --today 2026-11-26 --crossed", 0, "What would help"},
		{"", 2, "Try: rowbell --help"},
		{circleCSV + " --today soon", 2, `--today "soon": write the day as in 2026-11-25 … Try: rowbell roster --help`},
		{circleCSV + " --seconds 0", 2, "--seconds 0 is not between 1 and 3600"},
		{circleCSV + " --temps 20-30 --months x.csv", 2, "can't be used together"},
		{"nowhere.csv", 1, "nowhere.csv"},
		{bad + " --today 2026-11-26", 1, `2 rows cannot be used line 2: planted "soon" is not a day … ` +
			"line 3: a tool needs a name"},
	})
}

func TestRosterFiles(t *testing.T) {
	dir := t.TempDir()
	table, picture := filepath.Join(dir, "turns.txt"), filepath.Join(dir, "turns.svg")
	if out := prints(t, "roster", circleCSV, "--today", "2026-11-26", "-o", table, "--picture", picture); out != "" {
		t.Errorf("printed although the output goes to a file: %s", out)
	}
	b, err := os.ReadFile(table)
	must(t, err)
	if said := prints(t, "roster", circleCSV, "--today", "2026-11-26"); said != string(b) {
		t.Errorf("the file has\n%s, and printed is\n%s", b, said)
	}
	b, err = os.ReadFile(picture)
	must(t, err)
	if err := xml.Unmarshal(b, new(struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	})); err != nil || !strings.Contains(string(b), "Neema") {
		t.Errorf("not the picture of the turns: %v\n%s", err, b)
	}
	var doc struct {
		Turns []struct{ Day, Tool, Plot string }
	}
	said := prints(t, "roster", circleCSV, "--today", "2026-11-26", "--json")
	if err := json.Unmarshal([]byte(said), &doc); err != nil || len(doc.Turns) == 0 {
		t.Errorf("%v: %+v", err, doc)
	}

	// The turns, once told, stay on their days.
	told := filepath.Join(dir, "told.csv")
	prints(t, "roster", crowdedCSV, "--today", "2026-11-26", "--turns", told)
	before := prints(t, "roster", crowdedCSV, "--today", "2026-11-26", "--json")
	b, err = os.ReadFile(crowdedCSV)
	must(t, err)
	plots := filepath.Join(dir, "plots.csv") // without its own told turn, which is in the other file now
	must(t, os.WriteFile(plots, []byte(strings.Replace(string(b), "turn,Amina", "# turn,Amina", 1)), 0o600))
	after := prints(t, "roster", plots, told, "--today", "2026-11-26", "--json")
	if a, b := turnsIn(t, before), turnsIn(t, after); a != b || a == "" {
		t.Errorf("turns before they were told:\n%s\nand after:\n%s", a, b)
	}
	if !strings.Contains(after, `"told_turns_moved": 0`) || strings.Contains(after, `"told_turns": 0`) {
		t.Errorf("the told turns did not count:\n%s", after)
	}

	// A file may come from standard input.
	csv, err := os.ReadFile(circleCSV)
	must(t, err)
	var out, errs bytes.Buffer
	args := []string{"roster", "-", "--today", "2026-11-26"}
	if code := run(args, noEnv, bytes.NewReader(csv), &out, &errs); code != 0 ||
		!strings.Contains(out.String(), "Neema upper") {
		t.Errorf("from standard input: exit code %d: %s%s", code, errs.String(), out.String())
	}
}

// turnsIn returns the turns of a roster printed as JSON.
func turnsIn(t *testing.T, printed string) string {
	t.Helper()
	var doc struct{ Turns []map[string]any }
	must(t, json.Unmarshal([]byte(printed), &doc))
	b, err := json.Marshal(doc.Turns)
	must(t, err)
	return string(b)
}
