package weathercsv

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // makes every run of the property tests draw the same random values
)

var testToday = engine.Date(2026, time.June, 30)

// format writes days as text, so that they can be compared. A dash means that a value was not measured.
func format(days []Day) string {
	var out []string
	for _, d := range days {
		row := d.On.String()
		for _, v := range []float64{d.MinC, d.MaxC, d.RainMM} {
			if math.IsNaN(v) {
				row += " -"
			} else {
				row += fmt.Sprintf(" %.4g", v)
			}
		}
		out = append(out, row)
	}
	return strings.Join(out, "; ")
}

func TestParse(t *testing.T) {
	for name, c := range map[string]struct{ file, want string }{
		"plain": {"date,min_c,max_c,rain_mm\n2026-06-01,22.5,33,12.4\n2026-06-02,23,34,0\n",
			"2026-06-01 22.5 33 12.4; 2026-06-02 23 34 0"},
		"any order":        {"rain_mm,max_c,date,min_c\n1,33,2026-06-01,22\n", "2026-06-01 22 33 1"},
		"later days first": {"date,rain_mm\n2026-06-02,2\n2026-06-01,1\n", "2026-06-01 - - 1; 2026-06-02 - - 2"},
		"rain alone":       {"date,rain_mm\n2026-06-01,7\n", "2026-06-01 - - 7"},
		"temperatures":     {"date,min_c,max_c\n2026-06-01,-3.5,+4\n", "2026-06-01 -3.5 4 -"},
		"not measured": {"date,min_c,max_c,rain_mm\n2026-06-01,,,3\n2026-06-02,20,30,\n2026-06-03,,,\n",
			"2026-06-01 - - 3; 2026-06-02 20 30 -; 2026-06-03 - - -"},
		"other units":     {"date,min_f,max_f,rain_in\n2026-06-01,50,86,0.5\n", "2026-06-01 10 30 12.7"},
		"mixed kinds":     {"date,min_c,max_c,rain_in\n2026-06-01,10,30,1\n", "2026-06-01 10 30 25.4"},
		"upper case":      {"Date,Min_C,MAX_C,Rain_mm\n2026-06-01,10,30,1\n", "2026-06-01 10 30 1"},
		"byte order mark": {"\ufeffdate,rain_mm\n2026-06-01,1\n", "2026-06-01 - - 1"},
		"line ends":       {"date,rain_mm\r\n2026-06-01,1\r\n2026-06-02,2", "2026-06-01 - - 1; 2026-06-02 - - 2"},
		"old line ends":   {"date,rain_mm\r2026-06-01,1\r2026-06-02,2\r", "2026-06-01 - - 1; 2026-06-02 - - 2"},
		"remarks": {"# of the school's gauge\n\ndate,rain_mm\n # June\n2026-06-01,1\n,\n\n",
			"2026-06-01 - - 1"},
		"semicolons":        {"date;min_c;max_c;rain_mm\n2026-06-01;22,5;33.5;0,4\n", "2026-06-01 22.5 33.5 0.4"},
		"tabs":              {"date\train_mm\n2026-06-01\t1,5\n", "2026-06-01 - - 1.5"},
		"quoted":            {"\"date\",\"rain_mm\"\n\"2026-06-01\" , \"1.5\" \n", "2026-06-01 - - 1.5"},
		"spaces":            {" date , rain_mm \n 2026-06-01 , 1.5 \n", "2026-06-01 - - 1.5"},
		"separators at end": {"date,rain_mm\n2026-06-01,1,,,\n", "2026-06-01 - - 1"},
		"leap day":          {"date,rain_mm\n2024-02-29,1\n", "2024-02-29 - - 1"},
		"the first day":     {"date,rain_mm\n1950-01-01,1\n", "1950-01-01 - - 1"},
		"today":             {"date,rain_mm\n2026-06-30,1\n", "2026-06-30 - - 1"},
		"the limits":        {"date,min_c,max_c,rain_mm\n2026-06-01,-60,60,2000\n", "2026-06-01 -60 60 2000"},
	} {
		t.Run(name, func(t *testing.T) {
			days, err := Parse(strings.NewReader(c.file), testToday)
			if err != nil || format(days) != c.want {
				t.Errorf("%s, %v\nwant %s", format(days), err, c.want)
			}
		})
	}
}

//revive:disable-next-line:function-length the rows of one table
func TestParseRefuses(t *testing.T) {
	const head = "date,min_c,max_c,rain_mm\n"
	for name, c := range map[string]struct{ file, want string }{
		"nothing":         {"", "the file is empty"},
		"remarks only":    {"# none\n", "the file is empty"},
		"no days":         {head, "no days"},
		"no head":         {"2026-06-01,1,2,3\n", `there is no column "2026-06-01"`},
		"unknown column":  {"date,rain_mm,humidity\n", `line 1: there is no column "humidity"; there are date, min_c`},
		"no unit":         {"date,min,max\n", "column min has no unit; write min_c"},
		"no rain unit":    {"date,rain\n", "column rain has no unit; write rain_mm"},
		"no date":         {"min_c,max_c\n", "there is no column date"},
		"date only":       {"date\n", "no column but date"},
		"one temperature": {"date,min_c\n", "go together"},
		"twice":           {"date,rain_mm,rain_mm\n", "the columns rain_mm and rain_mm both hold the rain"},
		"two rains":       {"date,rain_mm,rain_in\n", "the columns rain_mm and rain_in both hold the rain"},
		"two units":       {"date,min_c,max_f\n", "min_c and max_f are in different units"},
		"unnamed":         {"date,,rain_mm\n", "column 2 has no name"},
		"UTF-16":          {"\xff\xfed\x00", "UTF-16"},
		"a table program": {"PK\x00\x01", "not text"},
		"not UTF-8":       {"date,rain_mm\n2026-06-01,\xb5\n", "line 2: this is not UTF-8"},
		"a long line":     {"date," + strings.Repeat("x", maxLineBytes), "line 1: longer than 4096 bytes"},
		"no such day":     {head + "2026-02-30,1,2,3\n", `line 2: "2026-02-30" is not a day written YYYY-MM-DD`},
		"not a leap year": {head + "2025-02-29,1,2,3\n", "is not a day written"},
		"day first":       {head + "01/06/2026,1,2,3\n", `"01/06/2026" is not a day written YYYY-MM-DD`},
		"short day":       {head + "2026-6-1,1,2,3\n", "is not a day written"},
		"no day":          {head + ",1,2,3\n", "line 2: there is no date"},
		"to come":         {head + "2026-07-01,1,2,3\n", "2026-07-01 is in the future: today is 2026-06-30"},
		"long ago":        {head + "1949-12-31,1,2,3\n", "1949-12-31 is before 1950-01-01"},
		"a day twice": {head + "2026-06-01,1,2,3\n# x\n2026-06-01,1,2,3\n",
			"line 4: 2026-06-01 is already on line 2"},
		"half a day":  {head + "2026-06-01,1,,3\n", "only one of the two temperatures"},
		"upside down": {head + "2026-06-01,30,20,3\n", "the lowest temperature, 30 °C, is above the highest, 20"},
		"a mark for none": {head + "2026-06-01,-99.9,20,3\n",
			"-99.9 °C is not between -60 and 60; leave the field empty"},
		"hot":           {head + "2026-06-01,20,86,3\n", "highest temperature of 86 °C"},
		"below no rain": {head + "2026-06-01,20,30,-1\n", "-1 mm of rain is not between 0 and 2000"},
		"a lake":        {head + "2026-06-01,20,30,2001\n", "2001 mm of rain"},
		"hot in other":  {"date,min_f,max_f\n2026-06-01,70,170\n", "76.67 °C"},
		"a word":        {head + "2026-06-01,20,30,trace\n", `line 2: rain_mm: "trace" is not a number`},
		"NaN":           {head + "2026-06-01,NaN,NaN,1\n", `min_c: "NaN" is not a number`},
		"infinity":      {head + "2026-06-01,20,30,Inf\n", "is not a number"},
		"exponent":      {head + "2026-06-01,2e1,30,1\n", "is not a number"},
		"thousands":     {"date;rain_mm\n2026-06-01;1.234,5\n", "is not a number"},
		"decimal comma": {head + "2026-06-01,\"20,5\",30,1\n",
			"has a decimal comma; separate the fields by semicolons"},
		"bare commas": {head + "2026-06-01,20,5,30,5,1\n",
			"6 fields for 4 columns; numbers with decimal commas need fields separated by semicolons"},
		"too few":        {head + "2026-06-01,20,30\n", "3 fields for 4 columns"},
		"an open quote":  {head + "\"2026-06-01,20,30,1\n", "line 2: a quotation mark is not closed"},
		"a quote inside": {head + "2026-06-01,2\"0,30,1\n", "line 2: there is a quotation mark inside of a field"},
		"an open quote and a bad row after it": {head + "\"2026-06-01,20,30,1\n2026-06-02,x,30,1\"\n",
			"line 3: there is a quotation mark inside"},
		"behind the quote": {head + "\"2026-06-01\"x,20,30,1\n", "behind a closing quotation mark"},
	} {
		t.Run(name, func(t *testing.T) {
			days, err := Parse(strings.NewReader(c.file), testToday)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want one with %q", err, c.want)
			}
			if days != nil {
				t.Errorf("%d days came through", len(days))
			}
		})
	}
}

func TestParseRefusesALargeFile(t *testing.T) {
	_, err := Parse(strings.NewReader("date,rain_mm\n"+strings.Repeat("#\n", maxFileBytes/2)), testToday)
	if err == nil || !strings.Contains(err.Error(), "larger than 16 MB") {
		t.Errorf("error %v", err)
	}
}

// An error lists each bad row with its line number, but at most twenty rows.
func TestBadRowsAreListedByLine(t *testing.T) {
	for _, n := range []int{1, 2, 20, 21, 50} {
		file := "date,rain_mm\n2026-06-01,1\n" + strings.Repeat("2026-06-02,much\n", n)
		_, err := Parse(strings.NewReader(file), testToday)
		var bad BadRows
		if !errors.As(err, &bad) || len(bad) != n {
			t.Fatalf("%d bad rows: %v", n, err)
		}
		lines := strings.Split(err.Error(), "\n")
		for i, line := range lines[1 : min(n, 20)+1] {
			if want := fmt.Sprintf("  line %d: rain_mm: ", i+3); !strings.HasPrefix(line, want) {
				t.Errorf("%q, want %q", line, want)
			}
		}
		more := ""
		if n > 20 {
			more = fmt.Sprintf("  and %d more", n-20)
		}
		if rest := strings.Join(lines[min(n, 20)+1:], "\n"); rest != more {
			t.Errorf("%d bad rows end in %q, want %q", n, rest, more)
		}
	}
}

// Parse must return the days that were written in any of the accepted formats.
func TestParseRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		separator := rapid.SampledFrom([]string{",", ";", "\t"}).Draw(t, "separator")
		point := "."
		if separator != "," && rapid.Bool().Draw(t, "commas") {
			point = ","
		}
		end := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		columns := rapid.Permutation([]string{"date", "min_c", "max_c", "rain_mm"}).Draw(t, "columns")
		offsets := rapid.SliceOfNDistinct(rapid.IntRange(0, 25000), 1, -1, rapid.ID[int]).Draw(t, "days")
		file := strings.Join(columns, separator) + end
		var want []Day
		write := func(v float64) string { return strings.Replace(fmt.Sprint(v), ".", point, 1) }
		for _, o := range offsets {
			d := Day{On: firstDay + engine.Day(o), Measured: engine.Unmeasured()}
			fields := map[string]string{"date": d.On.String()}
			tenths := func(from, to int, name string) float64 {
				return float64(rapid.IntRange(from, to).Draw(t, name)) / 10
			}
			if rapid.Bool().Draw(t, "temperature") {
				d.MinC = tenths(-600, 600, "min")
				d.MaxC = max(d.MinC, tenths(-600, 600, "max"))
				fields["min_c"], fields["max_c"] = write(d.MinC), write(d.MaxC)
			}
			if rapid.Bool().Draw(t, "rain") {
				d.RainMM = tenths(0, 20000, "mm")
				fields["rain_mm"] = write(d.RainMM)
			}
			row := make([]string, len(columns))
			for i, c := range columns {
				row[i] = fields[c]
			}
			file += strings.Join(row, separator) + end
			want = append(want, d)
		}
		slices.SortFunc(want, func(a, b Day) int { return int(a.On - b.On) })
		days, err := Parse(strings.NewReader(file), testToday)
		if err != nil || format(days) != format(want) {
			t.Fatalf("%v\n got %s\nwant %s", err, format(days), format(want))
		}
	})
}

// Parse returns an error, or plausible days in ascending order between firstDay and today.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"date,min_c,max_c,rain_mm\n2026-06-01,22.5,33,12.4\n", "date;rain_in\r\n2026-06-01;0,5\r\n",
		"\ufeffdate,min_f,max_f\n2026-06-01,50,86\n",
		"\"date\",\"rain_mm\"\n\"2026-06-01\",\"1\"\n", "date\train_mm\r2026-06-01\t\r#\r",
		"date,rain_mm\n2026-06-01,1\n2026-06-01,2\n", "\xff\xfe", "date,rain_mm\n2026-06-01,\"",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, file string) {
		days, err := Parse(strings.NewReader(file), testToday)
		if err != nil {
			if days != nil {
				t.Fatal("a refused file returned days")
			}
			return
		}
		if len(days) == 0 {
			t.Fatal("a file without days is accepted")
		}
		for i, d := range days {
			if i > 0 && d.On <= days[i-1].On || d.On < firstDay || d.On > testToday {
				t.Fatalf("%v is accepted, day %d of %s", d.On, i, format(days))
			}
			if math.IsNaN(d.MinC) != math.IsNaN(d.MaxC) || d.MinC > d.MaxC || d.MinC < -60 || d.MaxC > 60 ||
				d.RainMM < 0 || d.RainMM > 2000 {
				t.Fatalf("%+v is accepted", d)
			}
		}
	})
}

func TestCompare(t *testing.T) {
	none := math.NaN()
	day := func(n engine.Day, low, high, rain float64) Day {
		return Day{testToday + n, engine.Measured{MinC: low, MaxC: high, RainMM: rain}}
	}
	before := Daily([]Day{day(0, 20, 30, 1), day(1, none, none, 2), day(3, 20, 30, none)})
	if before.From != testToday || len(before.Days) != 4 || before.Days[2].HasRain() || before.Days[3].MaxC != 30 {
		t.Errorf("%+v", before)
	}
	if got := Daily(nil); len(got.Days) != 0 {
		t.Errorf("%+v", got)
	}
	days := []Day{
		day(-1, 20, 30, 0), // added: the records have no such day
		day(0, 20, 30, 1),  // same: the records have equal values
		day(1, 20, 30, 2),  // replaced: the records have no temperatures
		day(2, none, none, none),
		day(3, 20, 31, none), // replaced: the records have max. 30 °C
		day(4, none, none, 7),
	}
	added, replaced, same := Changes(before, Daily(days), days)
	if added != 2 || replaced != 2 || same != 2 {
		t.Errorf("added %d, replaced %d, same %d; want 2 of each", added, replaced, same)
	}
	for name, c := range map[string]struct {
		has  func(engine.Measured) bool
		want []Gap
	}{
		"temperature": {engine.Measured.HasTemperature,
			[]Gap{{testToday + 2, testToday + 2}, {testToday + 4, testToday + 5}}},
		"rain": {engine.Measured.HasRain, []Gap{{testToday + 2, testToday + 3}, {testToday + 5, testToday + 5}}},
	} {
		got := Gaps(Daily(days), testToday-1, testToday+5, c.has)
		if len(got) != len(c.want) || got[0] != c.want[0] || got[1] != c.want[1] {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
