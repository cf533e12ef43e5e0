package growercsv

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"rowbell/engine"
)

// testRules accept numbers of digits with or without a plus sign, and any label that is not too long.
var testRules = Rules{Languages: []string{"en", "fr"},
	Phone: func(s string) (string, error) {
		digits := strings.NewReplacer(" ", "", "+", "", "-", "").Replace(s)
		if len(digits) < 8 || len(digits) > 15 || strings.Trim(digits, "0123456789") != "" {
			return "", errors.New("no number")
		}
		return "+" + digits, nil
	},
	Label: func(s string) (string, error) {
		if utf8.RuneCountInString(s) > 10 {
			return "", errors.New("longer than 10")
		}
		return s, nil
	}}

// told writes what a file says, row by row, so that it can be compared.
func told(f File) string {
	var out []string
	for _, g := range f.Growers {
		for _, r := range g.Rows {
			v := r.Over(g.Over(Values{Phone: g.Phone, No: r.No}))
			s := fmt.Sprintf("%d:", r.Line)
			for i := range columns {
				if text := columns[i].get(&v); text != "" && (r.About || !columns[i].plot) {
					s += " " + columns[i].name + "=" + text
				}
			}
			out = append(out, s)
		}
	}
	return strings.Join(out, "\n")
}

const ana = "+447700900001"

func TestParse(t *testing.T) {
	for name, c := range map[string]struct{ file, want string }{
		"grower alone": {"phone,language\n+447700900001,en\n", "2: phone=" + ana + " language=en"},
		"grower and plot": {"phone,plot,method,planted,row_spacing_cm\n+447700900001,2,transplanted,2026-06-01,25\n",
			"2: phone=" + ana + " plot=2 method=transplanted planted=2026-06-01 row_spacing_cm=25"},
		"any order": {"language,phone\nfr,+447700900001\n", "2: phone=" + ana + " language=fr"},
		"names of any form": {"PHONE, Row spacing-cm\n+447700900001,25\n",
			"2: phone=" + ana + " plot=1 row_spacing_cm=25"},
		"byte order mark": {"\ufeffphone,language\n+447700900001,en\n", "2: phone=" + ana + " language=en"},
		"line ends":       {"phone,language\r\n+447700900001,en\r\n", "2: phone=" + ana + " language=en"},
		"old line ends":   {"phone,language\r+447700900001,en\r", "2: phone=" + ana + " language=en"},
		"semicolons":      {"phone;area_m2\n+447700900001;1200,5\n", "2: phone=" + ana + " plot=1 area_m2=1200.5"},
		"tabs, empty cells": {"phone\tlabel\tarea_m2\n+447700900001\t\t1,5\n",
			"2: phone=" + ana + " plot=1 area_m2=1.5"},
		"separator told": {"sep=;\r\nphone;language\r\n+447700900001;en\r\n", "3: phone=" + ana + " language=en"},
		"remarks": {"# growers\nphone,language\n\n# more\n+447700900001,en\n,\n",
			"5: phone=" + ana + " language=en"},
		"separators at end": {"phone,language,\n+447700900001,en,,\n", "2: phone=" + ana + " language=en"},
		"hectares":          {"phone,area_ha\n+447700900001,0.35\n", "2: phone=" + ana + " plot=1 area_m2=3500"},
		"apostrophe":        {"phone,label\n'+447700900001,'=1+1\n", "2: phone=" + ana + " plot=0 label==1+1"},
		"plus sign is gone": {"phone,language\n447700900001,en\n", "2: phone=" + ana + " language=en"},
		"several lines": {"phone,consent_words,language\n+447700900001,\"yes,\r\nplease\",en\n+447700900002,no,en\n",
			"2: phone=" + ana + " language=en consent_words=yes,\nplease\n" +
				"4: phone=+447700900002 language=en consent_words=no"},
		"two rows of a grower": {"phone,language,plot,area_m2\n+447700900001,en,1,10\n+447700900001,,2,20\n",
			"2: phone=" + ana + " language=en plot=1 area_m2=10\n3: phone=" + ana + " language=en plot=2 area_m2=20"},
		"said again": {"phone,language,plot,area_m2\n+447700900001,en,1,10\n+447700900001,en,2,20\n",
			"2: phone=" + ana + " language=en plot=1 area_m2=10\n3: phone=" + ana + " language=en plot=2 area_m2=20"},
		"a label like a number, two plots of one label": {"phone,plot,label\n+447700900001,3,x\n+447700900001,4,x\n" +
			"+447700900001,,3\n", "2: phone=" + ana + " plot=3 label=x\n3: phone=" + ana +
			" plot=4 label=x\n4: phone=" + ana + " plot=0 label=3"},
		"texts are not read": {"phone,texts\n+447700900001,stopped\n", "2: phone=" + ana},
		"yes and no": {"phone,plot,deep\n+447700900001,1,yes\n+447700900001,2,no\n",
			"2: phone=" + ana + " plot=1 deep=yes\n3: phone=" + ana + " plot=2"},
		"choices": {"phone,method,water,soil\n+447700900001,Row-sown,on and off,light\n",
			"2: phone=" + ana + " plot=1 method=row-sown water=on and off soil=light"},
	} {
		f, err := Parse(strings.NewReader(c.file), testRules)
		if got := told(f); err != nil || got != c.want {
			t.Errorf("%s: %v\n got %s\nwant %s", name, err, got, c.want)
		}
	}
}

func TestParseFindsMistakes(t *testing.T) {
	for name, c := range map[string]struct{ file, says string }{
		"empty":               {"", "the file is empty"},
		"only remarks":        {"# growers\n", "the file is empty"},
		"only columns":        {"phone,language\n", "no growers, only the names of columns"},
		"no phone":            {"language\nen\n", "there is no column phone"},
		"unknown column":      {"phone,colour\n", `there is no column "colour"; there are phone, name, note, texts`},
		"column without unit": {"phone,area\n", `there is no column "area"; write area_m2, for instance`},
		"column twice":        {"phone,language,language\n", "the columns language and language hold the same"},
		"two units":           {"phone,area_m2,area_ha\n", "the columns area_m2 and area_ha hold the same"},
		"column without name": {"phone,,language\n", "column 2 has no name"},
		"not UTF-8":           {"phone,label\n+447700900001,Rizi\xe8re\n", "line 2 is not UTF-8"},
		"UTF-16":              {"\xff\xfep\x00", "UTF-16"},
		"quotation mark": {"phone,label\n+447700900001,\"x\n+447700900002,y\n",
			"line 2: a quotation mark is not closed"},
		"mark in a field": {"phone,label\n+447700900001,x\"y\n", "line 2: there is a quotation mark inside"},
		"no number":       {"phone,language\n,en\n", "line 2, phone: there is no number"},
		"bad number":      {"phone,language\n12,en\n", "line 2, phone: this is not a phone number"},
		"masked":          {"phone,language\n+4477…001,en\n", "the number is masked"},
		"rounded":         {"phone,language\n4.47701E+11,en\n", "a spreadsheet has rounded this number"},
		"rounded, comma":  {"phone;language\n4,47701E+11;en\n", "a spreadsheet has rounded this number"},
		"language":        {"phone,language\n+447700900001,xx\n", `there is no language "xx"; there are en, fr`},
		"fields": {"phone,label\n+447700900001,a,b\n",
			"3 fields for 2 columns; a text with a comma needs"},
		"too few fields": {"phone,label\n+447700900001\n", "1 fields for 2 columns"},
		"plot":           {"phone,plot\n+447700900001,10\n", `plot: "10" is not the number of a plot, 1 to 9`},
		"same plot": {"phone,plot\n+447700900001,1\n+447700900001,1\n",
			"line 3, plot: this plot is already on line 2"},
		"same label": {"phone,label\n+447700900001,Bund\n+447700900001,bund\n",
			"line 3, plot: this plot is already on line 2"},
		"same label, then a number": {"phone,plot,label\n+447700900001,,Bund\n+447700900001,1,bund\n",
			"line 3, plot: this plot is already on line 2"},
		"same label, after a number": {"phone,plot,label\n+447700900001,1,Bund\n+447700900001,,bund\n",
			"line 3, plot: this plot is already on line 2"},
		"contradiction": {"phone,language,plot\n+447700900001,en,1\n+447700900001,fr,2\n",
			"line 3, language: another row of this number, on line 2, says something else"},
		"long label":    {"phone,label\n+447700900001,by the old well\n", "line 2, label: longer than 10"},
		"decimal comma": {"phone,area_m2\n+447700900001,\"1,5\"\n", "separate the fields by semicolons"},
		"thousands":     {"phone,area_m2\n+447700900001,1.200.000\n", "is not a number"},
		"row spacing":   {"phone,row_spacing_cm\n+447700900001,250\n", "250 is not between 5 and 100"},
		"no area":       {"phone,area_m2\n+447700900001,0\n", "0 is not between 0 and 1000000"},
		"seedlings":     {"phone,seedlings_per_hill\n+447700900001,1.5\n", "is not a whole number from 1 to 12"},
		"method": {"phone,method\n+447700900001,drilled\n",
			"is not one of: transplanted, row-sown, broadcast"},
		"deep":             {"phone,deep\n+447700900001,1\n", "write yes or no"},
		"needed taken out": {"phone,method\n+447700900001,none\n", "method: this cannot be taken out"},
	} {
		wantMistake(t, name, c.file, c.says)
	}
}

// Of a day in another form no guess is taken: the error says how to write what was likely meant.
func TestParseAsksDaysBack(t *testing.T) {
	for name, c := range map[string]struct{ file, says string }{
		"day, two readings": {"phone,planted\n+447700900001,03/04/2026\n",
			`"03/04/2026" may be 3 April 2026 or 4 March 2026; write 2026-04-03 or 2026-03-04`},
		"day, short year": {"phone,planted\n+447700900001,3.4.26\n", "may be 3 April 2026 or 4 March 2026"},
		"day, one reading": {"phone,planted\n+447700900001,25/11/2026\n",
			`"25/11/2026" is not a day written YYYY-MM-DD; write 2026-11-25`},
		"day, month first":   {"phone,planted\n+447700900001,11/25/2026\n", "write 2026-11-25"},
		"day, both the same": {"phone,planted\n+447700900001,4/4/2026\n", "write 2026-04-04"},
		"day, slashes":       {"phone,planted\n+447700900001,2026/4/3\n", "write 2026-04-03"},
		"day with an hour":   {"phone,planted\n+447700900001,2026-04-03 00:00\n", "write 2026-04-03"},
		"day as a number":    {"phone,planted\n+447700900001,46115\n", "the number of a day in a spreadsheet"},
		"no such day":        {"phone,planted\n+447700900001,2026-02-30\n", `"2026-02-30" is not a day`},
		"31/02":              {"phone,planted\n+447700900001,31/02/2026\n", "is not a day written YYYY-MM-DD"},
	} {
		wantMistake(t, name, c.file, c.says)
	}
}

// wantMistake parses a file, which must be refused with an error that says this and has no number of a phone.
func wantMistake(t *testing.T, name, file, says string) {
	t.Helper()
	f, err := Parse(strings.NewReader(file), testRules)
	if err == nil || !strings.Contains(err.Error(), says) || len(f.Growers) > 0 {
		t.Errorf("%s: %d growers, error %v, want one with %q", name, len(f.Growers), err, says)
	}
	if err != nil && strings.Contains(err.Error(), "7700900") {
		t.Errorf("%s: the error has a number: %v", name, err)
	}
}

// All mistakes are reported by their lines, and not only those of the first row that has one.
func TestParseListsAllMistakes(t *testing.T) {
	file := "phone,language,area_m2,planted\n1,xx,0,2026-06-01\n+447700900001,en,1,1/1/26\n+447700900002,en,-1,\n"
	_, err := Parse(strings.NewReader(file), testRules)
	var list Mistakes
	if !errors.As(err, &list) {
		t.Fatalf("error %v", err)
	}
	var got []string
	for _, m := range list {
		got = append(got, fmt.Sprintf("%d %s", m.Line, m.Column))
	}
	want := []string{"2 phone", "2 language", "2 area_m2", "3 planted", "4 area_m2"}
	if !slices.Equal(got, want) || !strings.HasPrefix(err.Error(), "3 rows cannot be used\n  line 2, phone: ") {
		t.Errorf("%v\n%q, want %q", err, got, want)
	}
	many := "phone,planted\n" + strings.Repeat("+447700900001,x\n", 30)
	if _, err = Parse(strings.NewReader(many), testRules); !strings.Contains(err.Error(), "and 10 more") {
		t.Errorf("error %v", err)
	}
}

func TestParseBoundsRows(t *testing.T) {
	file := func(n int) string {
		return "phone\n" + strings.Repeat("+447700900001\n", n)
	}
	if f, err := Parse(strings.NewReader(file(MaxRows)), testRules); err != nil || f.Rows != MaxRows {
		t.Errorf("%d rows: %v", f.Rows, err)
	}
	_, err := Parse(strings.NewReader(file(MaxRows+1)), testRules)
	if err == nil || !strings.Contains(err.Error(), "10001 rows; at most 10000") {
		t.Errorf("error %v", err)
	}
}

// An empty cell says nothing, and the word none takes a value out.
func TestOver(t *testing.T) {
	stored := Values{Home: engine.Household{People: 3}, Plot: engine.Plot{Label: "Bund", AreaM2: 1200, Deep: true,
		Puddled: 5, Flood: engine.FloodKept}, Tool: engine.Tool{WidthCM: 10, MaxWidthCM: 15}}
	for name, c := range map[string]struct {
		file string
		want []Change
	}{
		"nothing said": {"phone,people,label,area_m2,deep,puddled,water,tool_width_cm\n+447700900001,,,,,,,\n", nil},
		"taken out": {"phone,people,label,area_m2,deep,puddled,water,tool_width_cm\n" +
			"+447700900001,none,None,none,none,none,none,NONE\n", []Change{{"people", "3", ""}, {"label", "Bund", ""},
			{"puddled", "1970-01-06", ""}, {"deep", "yes", ""}, {"area_m2", "1200", ""}, {"water", "kept", ""},
			{"tool_width_cm", "10", ""}, {"tool_max_width_cm", "15", ""}}},
		"changed": {"phone,area_ha,deep,soil\n+447700900001,0.2,no,heavy\n",
			[]Change{{"deep", "yes", ""}, {"area_m2", "1200", "2000"}, {"soil", "", "heavy"}}},
		"a plot called none": {"phone,plot,label\n+447700900001,1,'none\n", []Change{{"label", "Bund", "none"}}},
	} {
		f, err := Parse(strings.NewReader(c.file), testRules)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		g := &f.Growers[0]
		if got := Changes(stored, g.Rows[0].Over(g.Over(stored))); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

func TestMissing(t *testing.T) {
	for name, c := range map[string]struct {
		v            Values
		grower, plot string
	}{
		"nothing": {Values{}, "phone language place consent_words consent_by consent_on", "method planted"},
		"in lines": {Values{Phone: ana, Plot: engine.Plot{Method: engine.RowSown, Planted: 1}},
			"language place consent_words consent_by consent_on", "row_spacing_cm"},
		"broadcast": {Values{Phone: ana, Language: "en", Place: "default", ConsentWords: "w", ConsentBy: "b",
			ConsentOn: engine.Date(2026, time.June, 1), Plot: engine.Plot{Method: engine.Broadcast, Planted: 1}},
			"", ""},
	} {
		grower, plot := strings.Join(Missing(c.v, false), " "), strings.Join(Missing(c.v, true), " ")
		if grower != c.grower || plot != c.plot {
			t.Errorf("%s: grower %q, plot %q", name, grower, plot)
		}
	}
}

func TestColumnsAreDescribed(t *testing.T) {
	for _, c := range Columns() {
		if c.About == "" {
			t.Errorf("%s is not described", c.Name)
		}
	}
}
