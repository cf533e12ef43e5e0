package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

const growersHead = "phone,language,consent_words,consent_by,consent_on,plot,label,method,planted,row_spacing_cm," +
	"area_m2\n"

// growersSteps runs commands at noon (UTC) of importToday on new records.
func growersSteps(t *testing.T, file string, steps func(file string) []shellStep) (db string) {
	t.Helper()
	db = newRecords(t)
	path := filepath.Join(writeFiles(t, map[string]string{"growers.csv": file}), "growers.csv")
	clock := "--test-clock " + importToday.At(12, time.UTC).Format(time.RFC3339)
	list := steps(path)
	for i := range list {
		list[i].args += " --db " + db
	}
	runSteps(t, clock, list)
	return db
}

func TestImportGrowers(t *testing.T) {
	file := growersHead +
		"+447700900001,en,I want texts,Field 3,2026-06-20,1,Bund,transplanted,2026-06-10,25,1200\n" +
		"'+447700900002,fr,Je veux,Field 3,2026-06-21,,,,,,\n"
	const both = "line 2, +4477…001: new grower; new plot 1 line 3, +4477…002: new grower " +
		"New growers: 2; new plots: 1; rows changed: 0; same: 0; refused: 0."
	db := growersSteps(t, file, func(file string) []shellStep {
		return []shellStep{
			{"import growers " + file + " --place default --dry-run", 0, both + " Nothing was written."},
			{"export", 0, "phone,name,note,texts,language,place,"},
			{"import growers " + file, 1, "nothing was written: 2 of 2 rows are refused"},
			{"import growers " + file + " --place moon", 1, "nothing was written: 2 of 2 rows are refused"},
			{"import growers " + file + " --place default", 0, both},
			{"import growers " + file, 0, "New growers: 0; new plots: 0; rows changed: 0; same: 2; refused: 0."},
			{"person --phone +447700900002", 0, "Consent given 2026-06-21"},
			{"import growers " + file + ".none", 1, "growers.csv.none"},
			{"import growers", 2, "<file>"},
		}
	})
	s := openRecords(t, db)
	read(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger("+447700900001", importToday.At(12, time.UTC).Unix())
		if err != nil {
			return err
		}
		season, err := l.Season(1)
		if season.Plot.Label != "Bund" || season.Plot.Planted != engine.Date(2026, time.June, 10) {
			t.Errorf("the plot is %+v", season.Plot)
		}
		return err
	})
}

func TestImportGrowersTellsMistakes(t *testing.T) {
	growersSteps(t, "phone,language,planted\n0770,xx,03/04/2026\n", func(file string) []shellStep {
		return []shellStep{{"import growers " + file, 1, "growers.csv: 1 row cannot be used … " +
			"line 2, phone: this is not a phone number with its country code … " +
			"line 2, language: there is no language \"xx\"; there are en, … write 2026-04-03 or 2026-03-04"}}
	})
}

// What is exported with whole numbers is imported and changes nothing; with masked numbers it is refused.
func TestExportGrowers(t *testing.T) {
	db := newRecords(t)
	clock := "--test-clock=" + importToday.At(12, time.UTC).Format(time.RFC3339)
	folder := writeFiles(t, map[string]string{"first.csv": growersHead +
		"+447700900001,en,\"=I want, texts\",Field 3,2026-06-20,1,Bund,transplanted,2026-06-10,25,1200\n" +
		"+447700900001,,,,,2,,broadcast,2026-06-12,,\n"})
	prints(t, clock, "import", "growers", filepath.Join(folder, "first.csv"), "--place", "default", "--db", db)
	prints(t, clock, "weeded", "--phone", "+447700900001", "--pass", "2026-06-29:tool:3h:2p:50%", "--db", db)
	export := func(args ...string) string {
		return prints(t, append([]string{clock, "export", "--db", db}, args...)...)
	}
	file := filepath.Join(folder, "second.csv")
	must(t, os.WriteFile(file, []byte(export("--numbers", "--place", "default")), 0o600))
	out := prints(t, clock, "import", "growers", file, "--db", db)
	if want := "New growers: 0; new plots: 0; rows changed: 0; same: 2; refused: 0.\n"; out != want {
		t.Errorf("imported again: %s", out)
	}
	must(t, os.WriteFile(file, []byte(export()), 0o600))
	_, errs, code := runCommand(clock, "import", "growers", file, "--db", db)
	if code != 1 || !strings.Contains(errs, "the number is masked") {
		t.Errorf("masked numbers: %d %s", code, errs)
	}
	assertNoNumbers(t, export()+export("--what", "growers")+export("--what", "passes")+export("--what", "texts"))
	want := "phone,plot,label,planted,closed,weeded,with,way,hours,people,weeds_left,share_pct\n" +
		"'+447700900001,1,Bund,2026-06-10,,2026-06-29,tool,,3,2,,50\n"
	if got := export("--what", "passes", "--numbers"); got != want {
		t.Errorf("passes:\n%swant\n%s", got, want)
	}
	if _, errs, code := runCommand("export", "--db", db, "--place", "moon"); code != 1 ||
		!strings.Contains(errs, `no place called "moon"`) {
		t.Errorf("no such place: %d %s", code, errs)
	}
	if _, _, code := runCommand("export", "--db", db, "--what", "money"); code != 2 {
		t.Errorf("--what money: %d", code)
	}
}
