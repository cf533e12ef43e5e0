package roster

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store/weathercsv"
)

var today = engine.Date(2026, time.November, 26)

func sample(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../../../testdata/roster", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func ours(text string) []File { return []File{{"ours.csv", strings.NewReader(text)}} }

func mustRead(t testing.TB, text string) Sheet {
	t.Helper()
	s, err := ReadSheet(ours(text), today)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return s
}

const smallHead = `what,name,household,planted,row_cm,hill_cm,area_m2,hands,hours,width_cm,from,to,tool,until,days`

const small = smallHead + `,missed,note,water,method
tool,Blue,,,,,,,,15.5,,,,,,,,,
tool,Red,,,,,,,,10 to 20,,,,,,,,,
plot,Amina,,2026-11-16,25,22.5,20x45,2,5.5,,,,,,,,,kept,
plot,Juma,Amina,2026-11-17,25,,900,,,,,,,,,2,,,row-sown
plot,Neema,,,20,,,,,,2026-11-28,2026-12-01,,2026-12-05,3,,,,
out,Red,,,,,,,,,2026-12-01,2026-12-02,,,,,,,
rest,Juma,,,,,,,,,2026-11-29,,,,,,,,
rest,Neema,,,,,,3,,,2026-11-30,2026-12-01,,,,,,,
turn,Amina,,,,,,,,,2026-11-28,,Blue,,,,,,
weeded,Juma,,,,,,,,,2026-11-25,,,,,,tool few 2.5h 2p,,
saw,Amina,,,,,,,,,2026-11-26,,,,,,2-3:many,,
`

func TestReadSheet(t *testing.T) {
	s := mustRead(t, small)
	day := func(m time.Month, d int) engine.Day { return engine.Date(2026, m, d) }
	want := Sheet{
		Plots: []Plot{
			{Name: "Amina", Ground: engine.Plot{Label: "Amina", Method: engine.Transplanted, Planted: day(11, 16),
				RowSpacingCM: 25, HillSpacingCM: 22.5, AreaM2: 900, Flood: engine.FloodKept},
				Told:      []Told{{day(11, 28), 0}},
				Sightings: []engine.Sighting{{On: day(11, 26), Leaves: engine.TwoThree, Amount: engine.Many}}},
			{Name: "Juma", Missed: 2, Ground: engine.Plot{Label: "Juma", Method: engine.RowSown, Planted: day(11, 17),
				RowSpacingCM: 25, AreaM2: 900},
				Passes: []engine.Pass{{On: day(11, 25), With: engine.ByTool, Left: engine.Few, Hours: 2.5, People: 2}}},
			{Name: "Neema", Household: 1, Ground: engine.Plot{Label: "Neema", Method: engine.Transplanted,
				RowSpacingCM: 20}, Window: Days{day(11, 28), day(12, 1)}, Until: day(12, 5), Need: 3},
		},
		Tools: []Tool{{Name: "Blue", Width: engine.Tool{WidthCM: 15.5}},
			{Name: "Red", Width: engine.Tool{WidthCM: 10, MaxWidthCM: 20}, Out: []Days{{day(12, 1), day(12, 2)}}}},
		Households: []Household{
			{Name: "Amina", Hands: 2, Hours: 5.5, Other: []OtherHands{{Days{day(11, 29), day(11, 29)}, 0}}},
			{Name: "Neema", Other: []OtherHands{{Days{day(11, 30), day(12, 1)}, 3}}},
		},
	}
	if !reflect.DeepEqual(s, want) {
		t.Errorf("read\n%+v, want\n%+v", s, want)
	}
}

// The same table as spreadsheets save it, and with days as people write them.
func TestReadSheetInOtherForms(t *testing.T) {
	want := mustRead(t, small)
	days := func(write func(y, m, d int) string) string {
		text := small
		for d := today - 60; d < today+60; d++ {
			y, m, day := d.Date()
			text = strings.ReplaceAll(text, d.String(), write(y, int(m), day))
		}
		return text
	}
	lines := strings.SplitAfter(small, "\n")
	turned := lines[0]
	for i := len(lines) - 1; i > 0; i-- {
		turned += lines[i]
	}
	semicolons := strings.ReplaceAll(small, ",", ";")
	for name, text := range map[string]string{
		"byte order mark":     "\ufeff" + small,
		"CRLF":                strings.ReplaceAll(small, "\n", "\r\n"),
		"CR":                  strings.ReplaceAll(small, "\n", "\r"),
		"no last newline":     strings.TrimSuffix(small, "\n"),
		"semicolons":          semicolons,
		"decimal commas":      strings.NewReplacer("15.5", "15,5", "22.5", "22,5", "5.5", "5,5").Replace(semicolons),
		"tabs":                strings.ReplaceAll(small, ",", "\t"),
		"quoted":              strings.ReplaceAll(small, "Amina", `"Amina"`),
		"quoted commas":       strings.ReplaceAll(small, "22.5", `"22,5"`),
		"spaces":              strings.ReplaceAll(small, ",", " , "),
		"comments, empty":     "# ours\n\n" + strings.Replace(small, "\ntool", "\n,,,,\n# tools\ntool", 1),
		"capitals in columns": strings.Replace(small, "row_cm,hill_cm", "Row cm,HILL_CM", 1),
		"capitals in words":   strings.NewReplacer("plot,", "Plot,", "row-sown", "Row-Sown").Replace(small),
		"a turn told twice":   small + "turn,Amina,,,,,,,,,2026-11-28,,Blue,,,,,,\n",
		"names in capitals":   strings.NewReplacer("turn,Amina", "turn,AMINA", "out,Red", "out,red").Replace(small),
		"more fields, empty":  strings.ReplaceAll(small, "\n", ",,,\n"),
		"d/m/y":               days(func(y, m, d int) string { return fmt.Sprintf("%02d/%02d/%d", d, m, y) }),
		"d.m.yy":              days(func(y, m, d int) string { return fmt.Sprintf("%d.%d.%d", d, m, y-2000) }),
		"d Mon": days(func(_, m, d int) string {
			return fmt.Sprintf("%d %s", d, time.Month(m).String()[:3])
		}),
		"d-Mon-yy": days(func(y, m, d int) string {
			return fmt.Sprintf("%d-%s-%d", d, time.Month(m).String()[:3], y-2000)
		}),
		"y/m/d": days(func(y, m, d int) string { return fmt.Sprintf("%d/%d/%d", y, m, d) }),
	} {
		s, err := ReadSheet(ours(text), today)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if !reflect.DeepEqual(s, want) {
			t.Errorf("%s: read %+v, want %+v", name, s, want)
		}
	}
	// The order of the rows is free; that of plots and households is the order of their rows.
	if s, err := ReadSheet(ours(turned), today); err != nil || s.Plots[0].Name != "Neema" ||
		len(s.Plots) != 3 || len(s.Plots[2].Told) != 1 {
		t.Errorf("rows turned round: %+v, %v", s, err)
	}
}

const badHead = smallHead + `,note
tool,Blue,,,,,,,,15,,,,,,
plot,Amina,,2026-11-16,25,25,900,1,6,,,,,,,
`

// badRows are rows behind those of badHead, and what is told about them.
var badRows = []struct{ rows, want string }{
	{"plot,Amina,,2026-11-16,25,25,900", "line 4: the plot Amina is already on line 3; give each its own name"},
	{"plot,,,2026-11-16,25,25,900", "line 4: a plot needs a name"},
	{"field,Juma,,2026-11-16,25,25,900", `line 4: "field" is none of plot, tool, out, rest, turn, weeded, saw`},
	{",Juma,,2026-11-16,25,25,900", "line 4: the column what is empty; write one of plot, tool"},
	{"plot,Juma,,,25,25,900", "line 4: write the day of planting in planted, or the days of the window in from and to"},
	{"plot,Juma,,2026-11-16,,25,900", "line 4: row_cm is needed: the distance between rows in cm"},
	{"plot,Juma,,2026-11-16,25,25,", "line 4: area_m2 is needed"},
	{"plot,Juma,,2026-11-16,2,25,900", "line 4: row_cm 2 is not between 5 and 100"},
	{"plot,Juma,,2026-11-16,a lot,25,900", `line 4: row_cm "a lot" is not a number; write only digits, as in 50`},
	{"plot,Juma,,2026-11-16,25,25,2x3x4", `line 4: area_m2 "2x3x4": write square metres, or length by width in ` +
		"metres as in 20x30"},
	{"plot,Juma,,2026-11-16,25,25,9000000", "line 4: area_m2 9e+06 is more than 1000000; write square metres"},
	{"plot,Juma,,2026-11-16,25,25,900,0", `line 4: hands "0" is not a whole number between 1 and 50`},
	{"plot,Juma,,2026-11-16,25,25,900,1,20", "line 4: hours 20 is not between 0.5 and 16"},
	{"plot,Juma,Amina,2026-11-16,25,25,900,2", "line 4: the household Amina has 1 hands on another row, and 2 here; " +
		"write the same"},
	{"plot,Juma,Amina,2026-11-16,25,25,900,,5", "line 4: the household Amina has 6 hours on another row, and 5 here"},
	{"plot,Juma,,2026-11-16,25,25,900,1,6,15", "line 4: a plot has no width_cm; leave that field empty"},
	{"plot,Juma,,yesterday,25,25,900", `line 4: planted "yesterday" is not a day; write the day as in 2026-11-25`},
	{"plot,Juma,,46346,25,25,900", "line 4: planted 46346 is the number of a day in a spreadsheet; format the column " +
		"as text, and write the day as in 2026-11-25"},
	{"plot,Juma,,5,25,25,900", `line 4: planted "5" is no whole day; write the day as in 2026-11-25`},
	{"plot,Juma,,31/11/2026,25,25,900", `line 4: planted "31/11/2026": the calendar has no such day`},
	{"plot,Juma,,2025-01-16,25,25,900",
		`line 4: planted "2025-01-16" is not in the days from 2026-06-29 to 2026-12-10`},
	{"plot,Juma,,11/16/2026,25,25,900", `line 4: planted "11/16/2026": if you mean 2026-11-16, write it so`},
	{"plot,Juma,,10/9/2026,25,25,900",
		`line 4: planted "10/9/2026" may be 2026-09-10 or 2026-10-09; write one of these`},
	{"plot,Juma,,,25,25,900,,,,2026-12-01", "line 4: a window that is given has both its first day in from and its " +
		"last day in to"},
	{"plot,Juma,,,25,25,900,,,,2026-12-03,2026-12-01", "line 4: to 2026-12-01 is before from 2026-12-03"},
	{"plot,Juma,,,25,25,900,,,,2026-12-01,2026-12-03,,2026-12-02",
		"line 4: until 2026-12-02 is before the end of the " +
			"window, 2026-12-03"},
	{"plot,Juma,,2026-11-16,25,25,900,,,,,,,2026-12-02",
		"line 4: until goes with a window that is given in from and to"},
	{"plot,Juma,,2026-11-16,25,25,,,,,,,,,99", `line 4: days "99" is not a whole number between 1 and 60`},
	{"tool,Red,,,,,,,,", "line 4: a tool needs its width_cm, as in 15, or 10 to 15"},
	{"tool,Red,,,,,,,,10-Oct", `line 4: width_cm "10-Oct": write cm as in 15, or 10 to 15 if the width can be changed`},
	{"tool,Red,,,,,,,,150", "line 4: width_cm: tool width 150 cm is not between 5 and 60"},
	{"tool,blue,,,,,,,,15", "line 4: the tool blue is already on line 2; give each its own name"},
	{"out,Red,,,,,,,,,2026-12-01", `line 4: there is no tool "Red"; write a row for it, or correct the name`},
	{"out,Blue,,,,,,,,,", "line 4: a row out needs the day in from, as in 2026-11-25"},
	{"rest,Juma,,,,,,,,,2026-12-01", `line 4: there is no plot "Juma"; write a row for it, or correct the name`},
	{"turn,Amina,,,,,,,,,2026-12-01", "line 4: a turn needs the name of its tool in the column tool"},
	{"plot,Juma,,2026-11-16,25,25,900\nturn,Amina,,,,,,,,,2026-12-01,,Blue\n" +
		"turn,Juma,,,,,,,,,2026-11-30,2026-12-02,Blue",
		"line 6: Blue was told to Amina, too, on 2026-12-01"},
	{"weeded,Amina,,,,,,,,,2026-11-10", "line 3: Amina was planted on 2026-11-16, after its row weeded of 2026-11-10"},
	{"weeded,Amina,,,,,,,,,2026-12-10", `line 4: from "2026-12-10" is not in the days from`},
	{"weeded,Amina,,,,,,,,,2026-11-25,,,,,often", `line 4: note: "often" is none of tool, hand`},
	{"saw,Amina,,,,,,,,,2026-11-25,,,,,", "line 4: a row saw needs what was seen in note, as in 2-3:many"},
	{"saw,Amina,,,,,,,,,2026-11-25,,,,,weeds", `line 4: note: "weeds" is none of none, 1, 2-3`},
	{"plot,Juma,,,25,25,900,,,,2026-12-01,2026-12-03\nsaw,Juma,,,,,,,,,2026-11-25,,,,,many",
		"line 4: Juma needs its planted day, because it has a row saw"},
	{"plot," + strings.Repeat("a", 41), "line 4: \"" + strings.Repeat("a", 24) + `…" has 41 letters; at most 40`},
	{"plot,a\tb\u0001", "line 4: \"a b\\x01\" has signs that cannot be printed"},
	{"plot,Juma,,2026-11-16,25,25,900,,,,,,,,,,9,5",
		`line 4: "9" is in column 17, which has no name in the first row; ` +
			"write numbers with a point, or separate the fields by semicolons"},
	{`plot,"Juma`, "line 4: a quotation mark is not closed"},
	{`plot,Ju"ma`, "line 4: there is a quotation mark inside of a field"},
	{"plot,Juma\xff", "line 4: this is not UTF-8"},
	// All mistakes at once; those that follow from another are not told.
	{"plot,Juma,,,25,25,900\ntool,Red,,,,,,,,150\nturn,Juma,,,,,,,,,2026-12-01,,Red\nout,Rod,,,,,,,,,2026-12-01",
		"3 rows cannot be used\n  line 4: write the day of planting in planted, or the days of the window in from " +
			"and " +
			"to\n  line 5: width_cm: tool width 150 cm is not between 5 and 60\n  line 7: there is no tool \"Rod\""},
}

// Each mistake is told with its line and with what to write instead, all at once.
func TestReadSheetMistakes(t *testing.T) {
	for _, c := range badRows {
		s, err := ReadSheet(ours(badHead+c.rows+"\n"), today)
		var bad weathercsv.BadRows
		if !errors.As(err, &bad) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s\n  gives: %v\n  want:  %s", c.rows, err, c.want)
		}
		if !reflect.DeepEqual(s, Sheet{}) {
			t.Errorf("%s: a part of the file is used", c.rows)
		}
		if !strings.Contains(c.rows, "\n") && len(bad) != 1 {
			t.Errorf("%s: %d mistakes, want 1: %v", c.rows, len(bad), err)
		}
	}
}

// Files are read together; each mistake is told with its file.
func TestReadSheetOfTwoFiles(t *testing.T) {
	const tools = "what;name;width_cm;from\ntool;Blue;15,5;\nout;Blue;;2026-12-01\n"
	const plots = "what,name,planted,row_cm,area_m2,tool,from\nplot,Amina,2026-11-16,25,900,,\n" +
		"turn,Amina,,,,Blue,2026-11-28\n"
	two := func(a, b string) []File {
		return []File{{"tools.csv", strings.NewReader(a)}, {"plots.csv", strings.NewReader(b)}}
	}
	s, err := ReadSheet(two(tools, plots), today)
	if err != nil || len(s.Tools) != 1 || len(s.Plots) != 1 || len(s.Tools[0].Out) != 1 || len(s.Plots[0].Told) != 1 {
		t.Errorf("%+v, %v", s, err)
	}
	for _, c := range []struct{ a, b, want string }{
		{tools + "tool;Red;;\n", plots + "plot,Juma,2026-11-16,25,,,\n", "tools.csv: 1 row cannot be used\n" +
			"  line 4: a tool needs its width_cm, as in 15, or 10 to 15\nplots.csv: 1 row cannot be used\n" +
			"  line 4: area_m2"},
		{tools, plots + "tool,Red,,,,,\n", "plots.csv: 1 row cannot be used\n  line 4: a tool needs its width_cm"},
		{tools + "\ntool;Blue;20;\n", plots, "tools.csv: 1 row cannot be used\n" +
			"  line 5: the tool Blue is already on line 2;"},
		{tools, "what,name,width_cm\ntool,Blue,15\n", "plots.csv: 1 row cannot be used\n" +
			"  line 2: the tool Blue is already on line 2 of tools.csv; give"},
		{tools, tools[:23], "tools.csv, plots.csv: there is no plot"},
		{tools, "", "plots.csv: the file is empty"},
	} {
		if _, err := ReadSheet(two(c.a, c.b), today); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

func TestReadSheetOfNoUse(t *testing.T) {
	wide := make([]byte, 0, 2*len(small))
	for _, u := range utf16.Encode([]rune("\ufeff" + small)) {
		wide = binary.LittleEndian.AppendUint16(wide, u)
	}
	many := "what,name,planted,row_cm,area_m2,width_cm\n"
	for i := range circle.MaxPlots + 1 {
		many += fmt.Sprintf("plot,p%d,2026-11-16,25,900,\n", i)
	}
	for text, want := range map[string]string{
		"":               "the file is empty: its first line must name the columns, such as what,name,household",
		"# nothing\n":    "the file is empty",
		"what,name\n":    "ours.csv: there is no plot: write a row with plot in the column what",
		"what,colour":    `line 1: there is no column "colour"; there are what, name`,
		"what,row\n":     "line 1: column row has no unit; write row_cm",
		"what,what\n":    "line 1: there are two columns what",
		string(wide):     "the file is in UTF-16; save it as UTF-8",
		"PK\x03\x04\x00": "the file is not text; save the table as CSV in UTF-8",
		"what,name,planted,row_cm,area_m2\nplot,Amina,2026-11-16,25,900\n": "ours.csv: there is no tool",
		many: fmt.Sprintf("line %d: a roster has at most %d plots", circle.MaxPlots+2, circle.MaxPlots),
	} {
		if _, err := ReadSheet(ours(text), today); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q gives %v, want %s", text, err, want)
		}
	}
	if _, err := ReadSheet([]File{{"ours.csv", failing{}}}, today); err == nil ||
		err.Error() != "ours.csv: the disk is gone" {
		t.Errorf("a file that cannot be read gives %v", err)
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the disk is gone") }

// A file that is read makes a problem without a mistake, whatever is in it.
func FuzzReadSheet(f *testing.F) {
	f.Add(small)
	f.Add(sample(f, "circle.csv"))
	f.Add(strings.ReplaceAll(small, ",", ";"))
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ReadSheet(ours(text), today)
		if err != nil {
			return
		}
		if len(s.Plots) == 0 || len(s.Tools) == 0 {
			t.Fatal("no plot or no tool, and no mistake")
		}
		r := Report{On: today, Sheet: s}
		if err := r.problem(engine.Season{Weather: engine.Steady(23, 32)}, true); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
	})
}
