package answer

import (
	"fmt"
	"maps"
	"strings"
	"testing"

	"rowbell/engine"
)

// said writes what a parser understood: the value, "or" and the other value that is offered, and "?" if the entry is
// asked back; or the key of the refusal.
func said[T any](write func(T) string, v T, d Doubt[T], r *Refusal) string {
	switch {
	case r != nil:
		return string(r.Key)
	case d.Meant != nil:
		return write(v) + " or " + write(*d.Meant) + "?"
	case d.Why != NoDoubt:
		return write(v) + "?"
	}
	return write(v)
}

// size writes a size in the unit in which it was typed.
func size(s Size) string {
	if s.A > 0 {
		return fmt.Sprintf("%gx%g %s", s.A, s.B, s.Unit)
	}
	return fmt.Sprintf("%g %s", s.N, s.Unit)
}

func width(w Range) string {
	return strings.TrimSuffix(exact(w.From)+"-"+exact(w.To), "-"+exact(w.From))
}

func areaIn(u AreaUnits) func(string) string {
	return func(s string) string { x, d, r := Area(s, u); return said(size, x, d, r) }
}

// acres has the units of a screen that asks how many acres.
var acres = AreaUnits{SideM: 1, M2: 4047, Unit: "acres", Local: NewLocalUnits([]AreaUnit{{"acres", 4047}})}

// dateIn makes a reader of a date on Wednesday 25 November 2026.
func dateIn(reach Reach, words DateWords) func(string) string {
	return func(s string) string {
		x, d, r := Date(s, wednesday, reach, words)
		return said(engine.Day.String, x, d, r)
	}
}

// english has the date words of a grower who chose English.
var english = NewDateWords(catalogue.MonthWords("en"), catalogue.AllMonthWords("en"), catalogue.AllDayWords("en"),
	catalogue.AllWeekdayWords())

// typedRows has entries for each question and what must be understood. The key is the question.
var typedRows = map[string]struct {
	read func(string) string
	want map[string]string
}{
	"size in m": {areaIn(metric), map[string]string{
		"20,30": "20x30 m or 20.3 m2?", "20.30": "20x30 m or 20.3 m2?", "10 100": "10x100 m or 10100 m2?",
		"120.80": "120x80 m or 120.8 m2?", "12,5": "12x5 m or 12.5 m2?", "60.5": "60.5 m2 or 60x5 m?",
		"600.50": "600.5 m2", "1,200": "1200 m2", "1 200": "1200 m2", "20 30": "20x30 m",
		"1/2": "refuse.area", "3/4": "refuse.area", "1 1/2": "refuse.area", "20/30": "20x30 m",
		"600-700": "600 m2 or 700 m2?", "20-30": "20x30 m", "600 to 700": "600 m2 or 700 m2?",
		"half acre": "0.5 acre", "half an acre": "0.5 acre", "1/2 acre": "0.5 acre", "½ ha": "0.5 ha",
		"¾ acre": "0.75 acre", "1 acre": "1 acre", "1½ acres": "1.5 acre or 0.15 acre?",
		"2-3 acres":    "2 acre or 3 acre?",
		"2 or 3 acres": "2 acre or 3 acre?", "acre 1/2": "0.5 acre", "2O*3O": "20x30 m", "20*30*": "20x30 m",
		"20*30#": "20x30 m", "6OO": "600 m2", "60 x 100 feet": "60x100 ft", "40 x 50 steps": "40x50 st",
		"49": "49 m2?", "12": "12 m2?", "50": "50 m2", "5000": "5000 m2", "5001": "5001 m2 or 500.1 m2?",
		"2 ha": "2 ha or 0.2 ha?", "0.6 ha": "0.6 ha or 0.06 ha?", "0.4 ha": "0.4 ha", "30 are": "30 are",
		"demi hectare": "0.5 ha", "un demi-hectare": "0.5 ha", "nusu ekari": "0.5 acre", "ekari nusu": "0.5 acre",
		"ekari 1": "1 acre", "आधा एकड़": "0.5 acre", "डेढ़ एकड़": "1.5 acre or 0.15 acre?",
		"meio hectare":    "0.5 ha",
		"setengah hektar": "0.5 ha", "1 एकड़": "1 acre", "600 sq m": "600 m2"}},
	"size in acres": {areaIn(acres), map[string]string{
		"3/4": "0.75 acres", "1/2": "0.5 acres", "½": "0.5 acres", "1 1/2": "1.5 acres or 0.15 acres?",
		"2-3": "2 acres or 3 acres?", "1": "1 acres", "half": "0.5 acres", "1/2 acre": "0.5 acre",
		"half an acre": "0.5 acre", "20*30": "20x30 m", "0.5": "0.5 acres", "600 m2": "600 m2"}},
	"size in steps": {areaIn(AreaUnits{SideM: 0.75, StepM: 0.75}), map[string]string{
		"100": "refuse.steps", "600 m2": "600 m2", "20,30": "20x30 st", "10 100": "10x100 st", "25*40": "25x40 st",
		"3/4": "refuse.steps", "40 x 50 m": "40x50 m"}},
	"hours": {func(s string) string { x, d, r := Hours(s, 600); return said(tenths, x, d, r) }, map[string]string{
		"2.30": "2.5 or 2.3?", "2,30": "2.5 or 2.3?", "2.50": "2.8 or 2.5?", "2.75": "2.8", "2.5": "2.5",
		"2.00":  "2",
		"08:00": "8?", "8:00": "8?", "13:00": "13?", "2:30": "2.5", "0:45": "0.8", "2-3": "2 or 3?",
		"2 or 3 hours": "2 or 3?", "8-12": "4?", "8:00-12:30": "4.5?", "1/2": "0.5", "half an hour": "0.5",
		"½ h": "0.5",
		"2½":  "2.5", "2 1/2 hours": "2.5", "2 and a half hours": "2.5", "2 heures et demie": "2.5",
		"une demi-heure": "0.5", "nusu saa": "0.5", "saa 2 na nusu": "2.5", "आधा घंटा": "0.5", "ढाई घंटे": "2.5",
		"साढ़े 3 घंटे": "3.5", "meia hora": "0.5", "2 horas e meia": "2.5", "setengah jam": "0.5",
		"3O min": "0.5"}},
	"rows": {func(s string) string { x, d, r := CM(s, RowSpacing); return said(tenths, x, d, r) }, map[string]string{
		"6 inches": "15.2", "8 in": "20.3", `8"`: "20.3", "8 pouces": "20.3", "inchi 8": "20.3", "8 इंच": "20.3",
		"8 polegadas": "20.3", "8 inci": "20.3", "1 foot": "30.5", "2O": "20", "20-25": "20 or 25?", "20*": "20"}},
	"tool": {func(s string) string { x, d, r := Tool(s, 20); return said(width, x, d, r) }, map[string]string{
		"10,15": "10-15?", "10.15": "10-15?", "12,5": "12.5", "15.5": "15.5", "10-15": "10-15",
		"6 inches": "15", `6"`: "15", "6in": "15", "6 इंच": "15", "inchi 6": "15", "4 inch": "10", "5 inch": "12.5",
		"15.2": "15.2"}},
	"distances": {func(s string) string {
		x, d, r := ReadSpacing(s)
		return said(func(s Spacing) string { return exact(s.Row) + "x" + exact(s.Hill) }, x, d, r)
	}, map[string]string{
		"2O*25": "20x25", "20*25*": "20x25", "20.25": "20x25", "8 x 8 inches": "20.3x20.3", "9x9 in": "22.9x22.9",
		"22.50": "22.5x0", "8 par 8 pouces": "20.3x20.3", "20 or 25": "20x0 or 25x0?"}},
	"sides": {func(s string) string {
		x, d, r := ReadSides(s, metric)
		return said(func(s Sides) string { return tenths(s.Length) + "x" + tenths(s.Width) }, x, d, r)
	}, map[string]string{"2O*3O": "20x30", "20*30*": "20x30", "60x100 ft": "18.3x30.5", "100": "refuse.sides"}},
}

// dateRows has entries for the questions about days. The key is the question.
var dateRows = map[string]struct {
	read func(string) string
	want map[string]string
}{
	"planting": {dateIn(PlantedReach, english), map[string]string{
		"O511": "2026-11-05", "511": "2026-11-05", "111": "2026-11-01", "1211": "2026-11-12", "2O/11": "2026-11-20",
		"20 days ago": "2026-11-05", "2 weeks ago": "2026-11-11", "1 month ago": "2026-10-25",
		"a month ago": "2026-10-25", "20 days": "2026-11-05", "5 days": "2026-11-20 or 2026-11-30?",
		"in 5 days": "2026-11-30", "20 ago": "2026-11-05 or 2026-08-20?", "5 days ago.": "2026-11-20",
		"il y a 20 jours": "2026-11-05", "dans 5 jours": "2026-11-30", "siku 20 zilizopita": "2026-11-05",
		"wiki 2 zilizopita": "2026-11-11", "20 दिन पहले": "2026-11-05", "5 दिन बाद": "2026-11-30",
		"há 20 dias": "2026-11-05", "20 dias atrás": "2026-11-05", "20 hari lalu": "2026-11-05",
		"sebulan yang lalu": "2026-10-25", "5 hari lagi": "2026-11-30",
		"juzi": "2026-11-23", "avant-hier": "2026-11-23", "day before yesterday": "2026-11-23",
		"परसों": "2026-11-23 or 2026-11-27?", "कल": "2026-11-24 or 2026-11-26?", "anteontem": "2026-11-23",
		"kemarin lusa": "2026-11-23", "lusa": "2026-11-27", "kesho kutwa": "2026-11-27", "tomorrow": "2026-11-26",
		"10/12": "refuse.date-ahead", "dia 5": "2026-11-05", "day 5": "2026-11-05 or 2026-11-20?",
		"200 days ago": "refuse.date-old", "in 20 days": "refuse.date-ahead"}},
	"weeding": {func(s string) string {
		x, d, r := PastDate(s, wednesday, WeededReach, english)
		return said(engine.Day.String, x, d, r)
	}, map[string]string{
		"dia 5": "2026-11-05", "5": "2026-11-20", "5 days": "2026-11-20", "siku 5": "2026-11-20",
		"2 weeks": "2026-11-11",
		"परसों":   "2026-11-23", "कल": "2026-11-24", "juzi": "2026-11-23", "tomorrow": "refuse.date-future",
		"511": "2026-11-05", "11/12": "2026-11-12?", "20*": "2026-11-05"}},
	"planning": {dateIn(PlanReach, english), map[string]string{
		"परसों": "2026-11-23 or 2026-11-27?", "2 weeks": "2026-11-11 or 2026-12-09?", "in 2 months": "2027-01-25",
		"121": "2027-01-12"}},
	"asked": {dateIn(AskedReach, english), map[string]string{
		"today": "2026-11-25", "कल": "2026-11-26", "2 weeks": "2026-12-09", "0512": "2026-12-05",
		"12/5": "2026-12-05?", "24/11": "refuse.date-old", "yesterday": "refuse.date-old"}},
	"days": {func(s string) string {
		x, r := Days(s, 5, 60)
		return said(func(n int) string { return fmt.Sprint(n) }, x, Doubt[int]{}, r)
	}, map[string]string{"3 weeks": "21", "wiki 3": "21", "3 हफ्ते": "21", "20 days": "20", "9 weeks": "refuse.whole"}},
}

// TestWhatGrowersType lists entries that growers type in a way of their own. Each must be understood as meant, or asked
// back with all that it can mean; none may be taken for another value in silence.
func TestWhatGrowersType(t *testing.T) {
	maps.Copy(typedRows, dateRows)
	for question, c := range typedRows {
		for in, want := range c.want {
			if got := c.read(in); got != want {
				t.Errorf("%s %q: %s, want %s", question, in, got, want)
			}
		}
	}
}
