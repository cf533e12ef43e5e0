package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

// exportedFile returns the file of all growers of the default place, read in pages of two.
func exportedFile(t tester, s *Store, plots bool) string {
	t.Helper()
	var file strings.Builder
	w := growercsv.NewWriter(&file, plots)
	for after := int64(0); ; {
		var page []growercsv.Values
		view(t, s, func(tx *Tx) (err error) {
			place, _, err := tx.PlaceByName(DefaultPlace)
			if err == nil {
				page, after, err = tx.ExportGrowers(place.ID, after, 2, plots)
			}
			return err
		})
		for _, v := range page {
			ok(t, w.Write(v))
		}
		if after == 0 {
			break
		}
	}
	ok(t, w.Close())
	return file.String()
}

func TestExport(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		_, err := l.AddPlot(engine.Plot{Label: "=1+1", Method: engine.Broadcast, Planted: day0}, engine.Tool{})
		return errors.Join(err, l.SetHousehold(engine.Household{People: 3, ToolPrice: 40}), l.SetName("Ana"),
			l.SetNote("by the mill"))
	})
	ledger(t, s, ben, noon, func(l *Ledger) error { return errors.Join(l.ClosePlot(1), l.Stop()) })
	const head = "phone,name,note,texts,language,place,consent_words,consent_by,consent_on,people,tools,hours_a_day," +
		"neighbours"
	equal(t, exportedFile(t, s, true), head+",plot,label,method,planted,puddled,seedling_age_days,seedlings_per_hill,"+
		"deep,row_spacing_cm,hill_spacing_cm,area_m2,water,soil,inflow_ls,variety_days,tool_width_cm,"+
		"tool_max_width_cm\n"+
		"'"+ana.E164()+",Ana,by the mill,,en,default,2026-1,ussd,2026-06-01,3,,,,1,by the well,transplanted,"+
		"2026-05-22,2026-05-21,15,2,,25,25.5,1200.25,moist,,,115,15,18\n"+
		"'"+ana.E164()+",Ana,by the mill,,en,default,2026-1,ussd,2026-06-01,3,,,,2,'=1+1,broadcast,2026-06-01,"+
		",,,,,,,,,,,,\n"+
		"'"+ben.E164()+",,,stopped,en,default,2026-1,ussd,2026-06-01,,,,,,,,,,,,,,,,,,,,,\n", "plots")
	equal(t, exportedFile(t, s, false), head+"\n"+
		"'"+ana.E164()+",Ana,by the mill,,en,default,2026-1,ussd,2026-06-01,3,,,\n"+
		"'"+ben.E164()+",,,stopped,en,default,2026-1,ussd,2026-06-01,,,,\n", "growers")
}

func TestExportOfPassesAndTexts(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	pass := engine.Pass{On: day0 - 1, With: engine.ByTool, Hours: 3, People: 2}
	ledger(t, s, ana, noon, func(l *Ledger) error { return errors.Join(logPass(1, pass)(l), l.ClosePlot(1)) })
	ledger(t, s, ben, noon, logPass(1, engine.Pass{On: day0, With: engine.ByHand}))
	grower := number(t, s, "SELECT id FROM grower WHERE phone = $1", ben.E164())
	m := text("k", ben, noon)
	m.GrowerID = grower
	enqueue(t, s, m)
	enqueue(t, s, text("of nobody", cleo, noon))
	view(t, s, func(tx *Tx) error {
		passes, last, err := tx.ExportPasses(1, 0, 10)
		equal(t, passes, []ExportedPass{{ana, 1, "by the well", day0 - 10, day0, pass},
			{ben, 1, "by the well", day0 - 10, 0, engine.Pass{On: day0, With: engine.ByHand}}}, "passes")
		equal(t, last, 0, "next page")
		texts, last, err2 := tx.ExportTexts(1, 0, 2)
		equal(t, len(texts) == 1 && texts[0].To == ben && texts[0].Text == "hello", true, "texts %v", texts)
		equal(t, last, grower, "next page")
		_, _, err3 := tx.ExportTexts(77, 0, 2)
		wantErr(t, err3, ErrNoPlace, "no place")
		return errors.Join(err, err2)
	})
}

// A file that was written from the records changes nothing when it is read into them, and makes the same records
// elsewhere, except for prices and the channel of the consent.
func TestExportedIsImported(t *testing.T) {
	s, other := open(t), open(t)
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		phone := Phone(fmt.Sprintf("+4477009%06d", n))
		ledger(t, s, phone, noon, func(l *Ledger) error {
			words := rapid.SampledFrom([]string{"I agree", "=1+1", "none", "'yes", "two\nlines", "a, \"b\"; c"})
			err := l.Consent("en", words.Draw(t, "words"), "ussd")
			names := rapid.SampledFrom([]string{"", "Ana", "=1+1", "none", "'x", "अना देवी"})
			err = errors.Join(err, l.SetName(names.Draw(t, "name")), l.SetNote(names.Draw(t, "note")))
			err = errors.Join(err, l.SetHousehold(engine.Household{People: rapid.IntRange(0, 9).Draw(t, "people"),
				LabourDay: 3}))
			for range rapid.IntRange(0, 3).Draw(t, "plots") {
				err = errors.Join(err, second(l.AddPlot(somePlot(t), someTool(t))))
			}
			if plots, err := l.Plots(); err == nil && len(plots) > 1 && rapid.Bool().Draw(t, "close") {
				return errors.Join(err, l.ClosePlot(1))
			}
			return err
		})
		file := exportedFile(t, s, true)
		im := anImport(t, s, file)
		list, err := s.TakeImport(ctx, im, "", noon)
		ok(t, err)
		equal(t, list.Count(FateSame), len(list), "same in\n%s", file)

		_, err = other.TakeImport(ctx, anImport(t, other, file), "", noon)
		ok(t, err)
		equal(t, exportedFile(t, other, true), file, "elsewhere")
	})
}

func somePlot(t *rapid.T) engine.Plot {
	p := engine.Plot{Label: rapid.SampledFrom([]string{"", "Bund", "=2", "none", "'x", "खेत 2"}).Draw(t, "label"),
		Method:       engine.Method(rapid.IntRange(1, 3).Draw(t, "method")),
		Planted:      day0 - engine.Day(rapid.IntRange(0, 200).Draw(t, "planted")),
		RowSpacingCM: rapid.Float64Range(5, 100).Draw(t, "rows"),
		AreaM2:       rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1, 1e6)).Draw(t, "area"),
		Deep:         rapid.Bool().Draw(t, "deep"), Soil: engine.Soil(rapid.IntRange(0, 3).Draw(t, "soil")),
		Flood: engine.Flood(rapid.IntRange(0, 3).Draw(t, "water"))}
	if rapid.Bool().Draw(t, "puddled") {
		p.Puddled = p.Planted - 5
	}
	return p
}

func someTool(t *rapid.T) (w engine.Tool) {
	if rapid.Bool().Draw(t, "tool") {
		w.WidthCM = rapid.Float64Range(5, 30).Draw(t, "width")
	}
	return w
}
