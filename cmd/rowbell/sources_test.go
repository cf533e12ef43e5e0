package main

import (
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
)

func TestSources(t *testing.T) {
	facts, settings := engine.Facts(), engine.Settings()
	var usedFor []string // of each fact
	for _, u := range engine.Uses() {
		for range u.Facts {
			usedFor = append(usedFor, u.Advice)
		}
	}
	table := prints(t, "sources")
	for _, f := range facts {
		if !strings.Contains(table, "\n"+f.Name+" ") || !strings.Contains(table, f.Source) ||
			!strings.Contains(table, f.Meaning) {
			t.Errorf("the table lacks %s", f.Name)
		}
	}
	var fromJSON []struct {
		Name, Unit, Meaning, Source, Trust string
		UsedFor                            string `json:"used_for"`
		Value                              float64
		Min                                *float64 `json:"place_min"`
		Max                                *float64 `json:"place_max"`
	}
	must(t, json.Unmarshal([]byte(prints(t, "sources", "--json")), &fromJSON))
	if len(fromJSON) != len(facts) {
		t.Fatalf("JSON: %d facts", len(fromJSON))
	}
	fromCSV, err := csv.NewReader(strings.NewReader(prints(t, "sources", "--csv"))).ReadAll()
	if err != nil || len(fromCSV) != len(facts)+1 {
		t.Fatalf("CSV: %d lines, %v", len(fromCSV), err)
	}
	for i, f := range facts {
		if j := fromJSON[i]; j.Name != f.Name || j.Value != f.Value || j.Unit != f.Unit || j.Meaning != f.Meaning ||
			j.Source != f.Source || j.Trust != f.Trust.String() || j.UsedFor != usedFor[i] {
			t.Errorf("JSON: %+v, want %+v", j, f)
		}
		least, most := "", ""
		if at := slices.IndexFunc(settings, func(s engine.Setting) bool { return s.Name == f.Name }); at >= 0 {
			least, most = decimal(settings[at].Min), decimal(settings[at].Max)
			if j := fromJSON[i]; j.Min == nil || j.Max == nil || *j.Min != settings[at].Min ||
				*j.Max != settings[at].Max {
				t.Errorf("JSON: %s may be set from %v to %v", f.Name, j.Min, j.Max)
			}
			if !strings.Contains(table, " "+least+" to "+most+" ") {
				t.Errorf("the table has no bounds of %s", f.Name)
			}
		} else if fromJSON[i].Min != nil {
			t.Errorf("JSON: %s may be set", f.Name)
		}
		want := []string{f.Name, decimal(f.Value), f.Unit, f.Meaning, f.Source, f.Trust.String(), usedFor[i], least,
			most}
		if strings.Join(fromCSV[i+1], "|") != strings.Join(want, "|") {
			t.Errorf("CSV: %q, want %q", fromCSV[i+1], want)
		}
	}
}
