package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

var importRules = growercsv.Rules{Languages: []string{"en", "fr"},
	Phone: func(s string) (string, error) {
		if !strings.HasPrefix(s, "+") {
			return "", errors.New("no number")
		}
		return s, nil
	},
	Label: func(s string) (string, error) { return s, nil }}

// anImport returns an import of a file by an operator into the default place, and into all others that there are.
func anImport(t tester, s *Store, file string) Import {
	t.Helper()
	f, err := growercsv.Parse(strings.NewReader(file), importRules)
	ok(t, err)
	im := Import{Growers: f.Growers, Place: DefaultPlace, File: "season.csv", By: TrailEntry{At: noon, Who: "desk"}}
	view(t, s, func(tx *Tx) error {
		places, err := tx.Places()
		for _, p := range places {
			im.Scope = append(im.Scope, p.ID)
		}
		return err
	})
	return im
}

// taken imports a file at noon, which must succeed, and returns the fates in words. CheckImport must say the same.
func taken(t tester, s *Store, file string) []string {
	t.Helper()
	im := anImport(t, s, file)
	checked, err := s.CheckImport(ctx, im, noon)
	ok(t, err)
	list, err := s.TakeImport(ctx, im, checked.Digest(), noon)
	ok(t, err)
	equal(t, inWords(list), inWords(checked), "taken and checked")
	return inWords(list)
}

func inWords(list Fates) (words []string) {
	for _, f := range list {
		words = append(words, fmt.Sprintf("%d %s", f.Line, f))
	}
	return words
}

// stored returns all rows of the tables that an import may change.
func stored(t tester, s *Store) (all []string) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		var list []growercsv.Values
		places, err := tx.Places()
		for _, p := range places {
			rows, _, err := tx.ExportGrowers(p.ID, 0, 1000, true)
			if err != nil {
				return err
			}
			list = append(list, rows...)
		}
		for _, v := range list {
			all = append(all, fmt.Sprintf("%+v", v))
		}
		return err
	})
	for _, table := range []string{"grower", "plot", "consent", "consent_text", "correction", "opt_out", "trail"} {
		all = append(all, fmt.Sprint(table, " ", number(t, s, "SELECT count(*) FROM "+table)))
	}
	return all
}

const importHead = "phone,language,consent_words,consent_by,consent_on,plot,label,method,planted,row_spacing_cm," +
	"area_m2\n"

func TestImport(t *testing.T) {
	s := open(t)
	file := importHead +
		ana.E164() + ",en,I want texts,Field 3,2026-05-30,1,Bund,transplanted,2026-05-20,25,1200\n" +
		ana.E164() + ",,,,,,Well,row-sown,2026-05-28,20,\n" +
		ben.E164() + ",fr,Je veux,Field 3,2026-06-01,,,,,,\n"
	equal(t, taken(t, s, file), []string{"2 new grower; new plot 1", "3 new plot 2", "4 new grower"}, "first")
	wantRows(t, s, map[string]int64{"grower WHERE consent_channel = 'import'": 2,
		"plot WHERE look_at = " + fmt.Sprint(noon): 2, "trail": 1,
		"consent WHERE what = 'given' AND channel = 'import'":          2,
		"consent_text WHERE body = 'I want texts\n\nAsked by Field 3'": 1})
	ledger(t, s, ana, noon, func(l *Ledger) error {
		equal(t, l.Language(), "en", "language")
		x, err := l.Season(1)
		equal(t, x.Plot, engine.Plot{Label: "Bund", Method: engine.Transplanted, Planted: day0 - 12, RowSpacingCM: 25,
			AreaM2: 1200}, "plot 1")
		return err
	})

	was := stored(t, s)
	equal(t, taken(t, s, file), []string{"2 same as in the records", "3 same as in the records",
		"4 same as in the records"}, "the same file again")
	equal(t, stored(t, s), was, "the same file again")

	equal(t, taken(t, s, "phone,language,plot,area_m2,soil\n"+ana.E164()+",fr,1,1300,heavy\n"+ana.E164()+",,2,,\n"),
		[]string{"2 changed: language from en to fr, area_m2 from 1200 to 1300, soil heavy",
			"3 same as in the records"},
		"corrected")
	wantRows(t, s, map[string]int64{"correction WHERE channel = 'import'": 1, "trail": 4,
		"trail WHERE what = 'changed by import' AND object = 'grower' AND was = 'language en'" +
			" AND now = 'language fr'": 1,
		"trail WHERE what = 'changed by import' AND object = 'plot' AND was = 'area_m2 1200'" +
			" AND now = 'area_m2 1300, soil heavy'": 1, "consent WHERE what = 'language'": 1})
}

// A soil that is also that of the place is stored, so that the same file changes nothing when it comes again.
func TestImportStoresTheSoilOfThePlace(t *testing.T) {
	s := openWithPlot(t, ana)
	p := defaultPlace()
	p.Soil = engine.SoilHeavy
	putPlace(t, s, p)
	file := "phone,plot,soil\n" + ana.E164() + ",1,heavy\n"
	equal(t, taken(t, s, file), []string{"2 changed: soil heavy"}, "first")
	equal(t, taken(t, s, file), []string{"2 same as in the records"}, "again")
}

func TestImportRefuses(t *testing.T) {
	const newPlot = ",en,I want texts,Field 3,2026-05-30,1,,transplanted,2026-05-20,25,\n"
	row := func(cells string) string { return importHead + cleo.E164() + "," + cells + "\n" }
	for name, c := range map[string]struct{ file, reason string }{
		"nothing of the grower": {"phone\n" + cleo.E164() + "\n",
			"a new grower needs: language, consent_words, consent_by, consent_on"},
		"no consent": {row("en,,,,1,,transplanted,2026-05-20,25,"),
			"a new grower needs: consent_words, consent_by, consent_on"},
		"nothing of the plot": {row("en,I want,Field 3,2026-05-30,1,,,,,"), "a new plot needs: method, planted"},
		"no rows": {row("en,I want,Field 3,2026-05-30,1,,row-sown,2026-05-20,,"),
			"a new plot needs: row_spacing_cm"},
		"consent to come": {row("en,I want,Field 3,2026-06-02,,,,,,"),
			"the consent of 2026-06-02 is in the future: today is 2026-06-01"},
		"old consent": {row("en,I want,Field 3,2025-05-31,,,,,,"),
			"the consent of 2025-05-31 is more than 365 days old: ask the grower again"},
		"planted next year": {row("en,I want,Field 3,2026-05-30,1,,broadcast,2027-05-20,,"),
			"planted 2027-05-20 is more than 14 days ahead: today is 2026-06-01"},
		"planted last year": {row("en,I want,Field 3,2026-05-30,1,,broadcast,2025-05-20,,"),
			"planted 2025-05-20 is more than 220 days ago: today is 2026-06-01"},
		"no such place": {"phone,place\n" + cleo.E164() + ",moon\n", `there is no place "moon"; there are: default`},
		"puddled after planting": {"phone,plot,puddled\n" + ana.E164() + ",1,2026-05-24\n",
			"puddled 2026-05-24 is not in the 30 days before planting 2026-05-22"},
		"wider than widest": {"phone,plot,tool_width_cm\n" + ana.E164() + ",1,20\n",
			"widest setting 18 cm is not between 20 and 60"},
		"planted after a weeding": {"phone,plot,planted\n" + ana.E164() + ",1,2026-05-30\n",
			"planted 2026-05-30 is after what was logged on 2026-05-29: if the rice was planted again, log that " +
				"on the plot instead"},
		"same plot by number and label": {"phone,plot,label,area_m2\n" + ana.E164() + ",1,,5\n" + ana.E164() +
			",,by the well,6\n", "plot 1 is called so, and another row is about plot 1"},
		"stopped since": {importHead + ben.E164() + newPlot,
			"this number has wanted no texts since 2026-06-01, after the consent of 2026-05-30: ask the grower again"},
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			ledger(t, s, ana, noon, logPass(1, engine.Pass{On: day0 - 3, With: engine.ByTool}))
			ledger(t, s, ben, noon, (*Ledger).Stop)
			was := stored(t, s)
			im := anImport(t, s, c.file)
			list, err := s.TakeImport(ctx, im, "", noon)
			wantErr(t, err, ErrImportRefused, "take")
			var reasons []string
			for _, f := range list {
				if f.Kind == FateRefused {
					reasons = append(reasons, f.Reason)
				}
			}
			equal(t, reasons, []string{c.reason}, "reasons")
			equal(t, stored(t, s), was, "records")
		})
	}
}

// If one row is refused, nothing of the whole file is written.
func TestImportIsAllOrNothing(t *testing.T) {
	s := open(t)
	was := stored(t, s)
	im := anImport(t, s, importHead+ana.E164()+",en,I want,Field 3,2026-05-30,1,,transplanted,2026-05-20,25,\n"+
		ben.E164()+",en,I want,Field 3,2026-05-30,1,,transplanted,2026-05-20,,\n")
	list, err := s.TakeImport(ctx, im, "", noon)
	wantErr(t, err, ErrImportRefused, "take")
	equal(t, inWords(list), []string{"2 new grower; new plot 1", "3 refused: a new plot needs: row_spacing_cm"},
		"fates")
	equal(t, stored(t, s), was, "records")
}

// What somebody agreed to is written, or nothing.
func TestImportTakesOnlyWhatWasSeen(t *testing.T) {
	s := openWithPlot(t, ana)
	im := anImport(t, s, "phone,plot,area_m2\n"+ana.E164()+",1,1300\n")
	seen, err := s.CheckImport(ctx, im, noon)
	ok(t, err)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		p := aPlot()
		p.AreaM2 = 900
		return l.ChangePlot(1, p, aTool())
	})
	list, err := s.TakeImport(ctx, im, seen.Digest(), noon)
	wantErr(t, err, ErrImportDiffers, "take")
	equal(t, inWords(list), []string{"2 changed: area_m2 from 900 to 1300"}, "fates")
	equal(t, season(t, s, ana, 1).Plot.AreaM2, 900, "area")
}

// A number that wants no texts gets none, also if its grower agreed later that somebody else writes the records.
func TestImportRespectsStop(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, (*Ledger).Stop)
	ledger(t, s, ben, noon-2*day, (*Ledger).Stop)
	equal(t, taken(t, s, importHead+
		ana.E164()+",,,,,2,,transplanted,2026-05-20,25,\n"+
		ben.E164()+",en,I want,Field 3,2026-06-01,1,,transplanted,2026-05-20,25,\n"),
		[]string{"2 new plot 2; wants no texts and gets none",
			"3 new grower; new plot 1; wants no texts and gets none"},
		"fates")
	for _, p := range []Phone{ana, ben} {
		equal(t, stopped(t, s, p), true, "stopped %s", p)
	}
	wantRows(t, s, map[string]int64{"plot": 3, "plot WHERE look_at IS NOT NULL": 0, "opt_out": 2})
	ledger(t, s, ben, noon, (*Ledger).Start)
	wantRows(t, s, map[string]int64{"plot WHERE look_at IS NOT NULL": 1})
}

// Consent is renewed only by a newer one.
func TestImportRenewsConsent(t *testing.T) {
	s := openWithPlot(t, ana) // agreed on 2026-06-01
	file := func(on string) string {
		return "phone,consent_words,consent_by,consent_on\n" + ana.E164() + ",New words,Field 3," + on + "\n"
	}
	equal(t, taken(t, s, file("2026-05-30")),
		[]string{"2 same as in the records; the consent of 2026-06-01 stands"}, "old")
	wantRows(t, s, map[string]int64{"consent": 1, "trail": 0})
	im := anImport(t, s, file("2026-06-02"))
	list, err := s.TakeImport(ctx, im, "", noon+2*day)
	ok(t, err)
	equal(t, inWords(list), []string{"2 changed: consent_on from 2026-06-01 to 2026-06-02"}, "new")
	wantRows(t, s, map[string]int64{"consent WHERE what = 'renewed' AND channel = 'import'": 1,
		"grower WHERE consent_channel = 'import'": 1})
}

// A file of the season before opens no plot again, and a file of a new season closes the plots of the last one.
func TestImportOfSeasons(t *testing.T) {
	s := open(t)
	row := func(planted engine.Day, more string) string {
		head := "phone,language,consent_words,consent_by,consent_on,plot,label,method,planted,row_spacing_cm"
		return head + map[bool]string{true: "\n", false: ",seedling_age_days\n"}[more == ""] + ana.E164() +
			",en,I want,Field 3,2026-05-30,1,Bund,transplanted," + planted.String() + ",25" + more + "\n"
	}
	first := row(day0-100, ",14")
	equal(t, taken(t, s, first), []string{"2 new grower; new plot 1"}, "first season")
	equal(t, taken(t, s, row(day0-95, "")), []string{"2 changed: planted from 2026-02-21 to 2026-02-26"}, "corrected")
	equal(t, taken(t, s, row(day0-2, "")), []string{"2 new season on plot 1"}, "second season")
	wantRows(t, s, map[string]int64{"plot": 2, "plot WHERE closed_day IS NULL": 1})
	x := season(t, s, ana, 1)
	equal(t, x.Plot.Planted, day0-2, "planted")
	equal(t, x.Plot.SeedlingAgeDays, 14, "what the file does not say")
	was := stored(t, s)
	equal(t, taken(t, s, row(day0-95, "")), []string{"2 same as in the records; this season is over"}, "old file")
	equal(t, stored(t, s), was, "old file")
	ledger(t, s, ana, noon, closePlot(1))
	equal(t, taken(t, s, row(day0-2, "")), []string{"2 same as in the records; this season is over"}, "closed")
}

func TestImportNumbersPlots(t *testing.T) {
	s := open(t)
	row := func(plot, label string) string {
		return ana.E164() + ",en,I want,Field 3,2026-05-30," + plot + "," + label + ",broadcast,2026-05-20,,\n"
	}
	equal(t, taken(t, s, importHead+row("", "Well")+row("5", "Bund")+row("", "Hill")+row("1", "")),
		[]string{"2 new grower; new plot 2", "3 new plot 5", "4 new plot 3", "5 new plot 1"}, "numbers")
	equal(t, read(t, s, ana, noon, (*Ledger).Plots), []int{1, 2, 3, 5}, "plots")
	equal(t, taken(t, s, importHead+row("", "well")+row("4", "Gate")), []string{"2 changed: label from Well to well",
		"3 new plot 4"}, "by label")
	equal(t, read(t, s, ana, noon, (*Ledger).Plots), []int{1, 2, 3, 4, 5}, "plots")
	var file strings.Builder
	for i := range 5 {
		file.WriteString(row("", fmt.Sprint("New ", i)))
	}
	list, err := s.TakeImport(ctx, anImport(t, s, importHead+file.String()), "", noon)
	wantErr(t, err, ErrImportRefused, "take")
	equal(t, inWords(list)[4], "6 refused: nine plots are open already", "tenth")
}

// Staff of a place cannot add or change growers of another one.
func TestImportKeepsToItsPlaces(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	other := anotherPlace(t, s, "hills", "Asia/Manila", ben)
	im := anImport(t, s, "phone,plot,area_m2,place\n"+ana.E164()+",1,5,\n"+ben.E164()+",1,5,\n")
	im.Scope = slices.DeleteFunc(im.Scope, func(id int64) bool { return id == other })
	list, err := s.CheckImport(ctx, im, noon)
	ok(t, err)
	equal(t, inWords(list), []string{"2 changed: area_m2 from 1200.25 to 5",
		"3 refused: the records have this number at a place that is not yours; ask an operator"}, "fates")
	im.Growers = anImport(t, s, "phone,place\n"+ana.E164()+",hills\n").Growers
	list, err = s.CheckImport(ctx, im, noon)
	ok(t, err)
	equal(t, inWords(list), []string{`2 refused: there is no place "hills"; there are: default`}, "moved away")
	equal(t, taken(t, s, "phone,place\n"+ana.E164()+",hills\n"), []string{"2 changed: place from default to hills"},
		"moved")
}

func TestImportBoundsChanges(t *testing.T) {
	s := open(t)
	var file strings.Builder
	n := MaxImportChanges + 1
	for i := range n {
		fmt.Fprintf(&file, "+4477009%06d,en,I want,Field 3,2026-05-30,1,,broadcast,2026-05-20,,\n", i)
	}
	taken(t, s, importHead+file.String())
	changed := strings.ReplaceAll(file.String(), ",en,", ",fr,")
	_, err := s.TakeImport(ctx, anImport(t, s, importHead+changed), "", noon)
	wantErr(t, err, ErrImportLarge, "take")
	wantRows(t, s, map[string]int64{"grower": int64(n), "grower WHERE language = 'en'": int64(n)})
}

// What happens between the look at the records and the write is seen.
func TestImportSeesWhatHappensMeanwhile(t *testing.T) {
	const file = importHead + string(ana) + ",,,,,1,,,,,700\n" +
		string(ben) + ",en,I want,Field 3,2026-06-01,1,,broadcast,2026-05-20,,\n"
	for name, meanwhile := range map[string]func(t *testing.T, s *Store){
		"the plot is corrected": func(t *testing.T, s *Store) {
			ledger(t, s, ana, noon, func(l *Ledger) error {
				p := aPlot()
				p.AreaM2 = 900
				return l.ChangePlot(1, p, aTool())
			})
		},
		"the plot is closed":     func(t *testing.T, s *Store) { ledger(t, s, ana, noon, closePlot(1)) },
		"the number joins":       func(t *testing.T, s *Store) { ledger(t, s, ben, noon, consent) },
		"the number sends STOP":  func(t *testing.T, s *Store) { ledger(t, s, ben, noon, (*Ledger).Stop) },
		"the number is given up": func(t *testing.T, s *Store) { ledger(t, s, ana, noon, (*Ledger).Erase) },
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			im := anImport(t, s, file)
			plans, list, err := s.planImport(ctx, im, noon)
			ok(t, err)
			equal(t, inWords(list), []string{"2 changed: area_m2 from 1200.25 to 700", "3 new grower; new plot 1"},
				"fates")
			meanwhile(t, s)
			was := stored(t, s)
			err = s.InTx(ctx, func(tx *Tx) error { return tx.takeImport(im, plans, noon) })
			wantErr(t, err, ErrImportMoved, "take")
			equal(t, stored(t, s), was, "records")
		})
	}
}

// Names and notes are kept as staff enter them. Changes of them stand in entries of the trail of their own, which go
// when the grower is unlinked.
func TestImportOfNames(t *testing.T) {
	s := openWithPlot(t, ana)
	name, note := strings.Repeat("n", MaxGrowerName), strings.Repeat("x", MaxGrowerNote)
	head := "phone,name,note,language,consent_words,consent_by,consent_on\n"
	file := head + ana.E164() + ",Ana,calls at noon,,,,\n" + ben.E164() + "," + name + "," + note +
		",en,I want,Field 3,2026-06-01\n"
	equal(t, taken(t, s, file), []string{"2 changed: name Ana, note calls at noon", "3 new grower"}, "first")
	equal(t, taken(t, s, file), []string{"2 same as in the records", "3 same as in the records"}, "again")
	wantRows(t, s, map[string]int64{"grower WHERE name_key = 'ana' AND note = 'calls at noon'": 1,
		"grower WHERE name = '" + name + "' AND name_key = '" + name + "' AND note = '" + note + "'": 1,
		"trail WHERE what = '" + TrailName + "' AND now = 'Ana'":                                     1,
		"trail WHERE what = '" + TrailNote + "' AND now = 'calls at noon'":                           1, "trail": 3})
	equal(t, taken(t, s, "phone,name,note,language\n"+ana.E164()+",Anna,none,fr\n"),
		[]string{"2 changed: name from Ana to Anna, note calls at noon is taken out, language from en to fr"},
		"changed")
	wantRows(t, s, map[string]int64{"grower WHERE name = 'Anna' AND note = ''": 1,
		"trail WHERE what = 'changed by import' AND was = 'language en' AND now = 'language fr'": 1})
	for _, cells := range []string{name + "n,", "," + note + "x"} {
		_, err := growercsv.Parse(strings.NewReader("phone,name,note\n"+ana.E164()+","+cells+"\n"), importRules)
		errorIf(t, err == nil, "%s is accepted", cells)
	}
}
