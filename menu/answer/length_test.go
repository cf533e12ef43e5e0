package answer

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

var spacing = Range{5, 100}

func TestParseCM(t *testing.T) {
	for _, c := range []struct {
		in   string
		want string // the length in cm, or the key of the refusal
	}{
		{"20", "20"}, {"20cm", "20"}, {"20 cm", "20"}, {"20 CM.", "20"}, {"0.2 m", "20"}, {"0,2m", "20"},
		{"200 mm", "20"}, {"20,5", "20.5"}, {"20.5", "20.5"}, {"22.54", "22.5"}, {"(20)", "20"}, {"২০", "20"},
		{"２０ｃｍ", "20"}, {"5", "5"}, {"100", "100"}, {"1 m", "100"}, {"٢٠٫٥", "20.5"},
		{"0.25", "25"}, {"0,25", "25"}, {",25", "25"}, {".25", "25"}, // out of range in cm, so these are metres
		{"", "refuse.empty"}, {"1", "refuse.length-range"}, {"4.9", "refuse.length-range"},
		{"101", "refuse.length-range"}, {"20 m", "refuse.length-range"}, {"0", "refuse.length-range"},
		{"20 h", "refuse.length"}, {"m 0.2", "20"}, {"cm 20", "20"}, {"cm20", "20"}, {"20 centimetres", "20"},
		{"20 mètres", "refuse.length-range"}, {"0,2 mètre", "20"}, {"sentimita 20", "20"}, {"20 सेमी", "20"},
		{"20 से.मी.", "20"}, {"20 से मी", "20"}, {"२० सेंटीमीटर", "20"}, {"0,2 metros", "20"}, {"20 sentimeter", "20"},
		{"2.5", "refuse.length-range"}, {"20x20", "refuse.length"}, {"20-25", "refuse.length"},
		{"twenty", "refuse.length"}, {"-20", "refuse.length"}, {"20 feet", "refuse.length-range"}, {"6 inches", "15.2"},
		{"1 foot", "30.5"}, {"8\"", "20.3"}, {"8 1/2 in", "21.6"}, {"½ m", "50"}, {"2 0", "refuse.length"},
		{"20.5.1", "refuse.length"}, {"20,", "refuse.length"}, {"cm", "refuse.length"}, {"99999999", "refuse.length"},
		{"1e1", "refuse.length"}, {"NaN", "refuse.length"}, {"inf", "refuse.length"},
	} {
		x, r := parseCM(c.in, spacing)
		wantRead(t, c.in, tenths(x), r, c.want)
	}
	_, r := parseCM("250", spacing)
	if r.Args["cm"] != oneDecimal(250) || r.Args["from"] != oneDecimal(5) || r.Args["to"] != oneDecimal(100) {
		t.Errorf("args %v", r.Args)
	}
}

// wantRead fails the test if want is neither the value that a parser returned for the entry in nor the key of the
// refusal.
func wantRead(t *testing.T, in, got string, r *Refusal, want string) {
	t.Helper()
	if r != nil {
		wantRefusal(t, in, r)
		got = string(r.Key)
	}
	if got != want {
		t.Errorf("%q: %s, want %s", in, got, want)
	}
}

func TestParseGaps(t *testing.T) {
	for _, c := range []struct {
		in   string
		gaps int
		want string
	}{
		{"220", 10, "22"}, {"2.2 m", 10, "22"}, {"2,2m", 10, "22"}, {"225 cm", 10, "22.5"}, {"2.2", 10, "22"},
		{"2", 10, "20"}, {"2250mm", 10, "22.5"}, {"100", 3, "33.3"}, {"50", 10, "5"}, {"1000", 10, "100"},
		{"10 m", 10, "100"}, {"", 10, "refuse.empty"}, {"20 rows", 10, "refuse.length"},
		{"20", 10, "refuse.gaps-range"}, {"1100", 10, "refuse.gaps-range"}, {"220 m", 10, "refuse.gaps-range"},
		{"2.2 cm", 10, "refuse.gaps-range"}, {"0", 10, "refuse.gaps-range"},
	} {
		x, r := parseGaps(c.in, c.gaps, spacing)
		wantRead(t, c.in, tenths(x), r, c.want)
	}
	_, r := parseGaps("20", 10, spacing)
	if r.Args["cm"] != oneDecimal(20) || r.Args["each"] != oneDecimal(2) || r.Args["from"] != oneDecimal(50) ||
		r.Args["to"] != oneDecimal(1000) || r.Args["gaps"] != 10 {
		t.Errorf("args %v", r.Args)
	}
}

func TestParseWidths(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"10-15", "10-15"}, {"10 to 15", "10-15"}, {"10to15", "10-15"}, {"10/15", "10-15"}, {"10*15", "10-15"},
		{"10 15", "10-15"},
		{"10 - 15 cm", "10-15"}, {"10cm-15cm", "10-15"}, {"10–15", "10-15"}, {"15-10", "10-15"},
		{"12.5-17,5", "12.5-17.5"}, {"0.1-0.15 m", "10-15"}, {"10, 15", "10-15"}, {"১০-১৫", "10-15"},
		{"10 cm 15 cm", "10-15"}, {"", "refuse.empty"}, {"10", "refuse.widths"}, {"10-10", "refuse.widths"},
		{"10,15", "refuse.widths"}, {"10-15-20", "refuse.widths"}, {"ten to 15", "refuse.widths"},
		{"10 or 15", "refuse.widths"}, {"10 à 15 cm", "10-15"}, {"10 hadi 15", "10-15"}, {"sm 10 hadi sm 15", "10-15"},
		{"10 से 15 सेमी", "10-15"}, {"१० से १५", "10-15"}, {"10 até 15", "10-15"}, {"10 sampai 15", "10-15"},
		{"1015", "refuse.widths"}, {"-10-15", "refuse.widths"}, {"2-15", "refuse.length-range"},
		{"10-80", "refuse.length-range"},
	} {
		w, r := parseWidths(c.in, Range{5, 60})
		wantRead(t, c.in, tenths(w.From)+"-"+tenths(w.To), r, c.want)
	}
	if _, r := parseWidths("10-80", Range{5, 60}); r.Args["cm"] != oneDecimal(80) {
		t.Errorf("the refusal names %v, not the width out of range", r.Args["cm"])
	}
}

// TestUnitsAgree checks that a length gives the same value in cm, mm and m.
func TestUnitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := rapid.IntRange(50, 1000).Draw(t, "mm")
		want := float64(mm) / 10
		for _, entry := range []string{
			fmt.Sprintf("%d mm", mm), fmt.Sprintf("%d.%d", mm/10, mm%10), fmt.Sprintf("%d,%dcm", mm/10, mm%10),
			fmt.Sprintf("%d.%03d m", mm/1000, mm%1000),
		} {
			if got, r := parseCM(entry, spacing); r != nil || math.Abs(got-want) > 1e-9 {
				t.Fatalf("%q is %g cm, %v; want %g", entry, got, r, want)
			}
		}
		for _, gaps := range []int{1, 4, 10} {
			entry := fmt.Sprintf("%d mm", mm*gaps)
			if got, r := parseGaps(entry, gaps, spacing); r != nil || math.Abs(got-want) > 1e-9 {
				t.Fatalf("%q over %d gaps is %g cm, %v; want %g", entry, gaps, got, r, want)
			}
		}
	})
}

func FuzzParseCM(f *testing.F) {
	fuzzEntries(f, "length", func(t *testing.T, s string) {
		x, r := parseCM(s, spacing)
		if r == nil && (!spacing.Contains(x) || x != tenth(x)) {
			t.Fatalf("%q is %g cm", s, x)
		}
		if cm, d, r := CM(s, RowSpacing); r == nil && d.Why == Corrected && !RowSpacing.Usual.Contains(cm) {
			t.Fatalf("%q is corrected to %g cm", s, cm)
		}
	})
}

func FuzzParseGaps(f *testing.F) {
	fuzzEntries(f, "gaps", func(t *testing.T, s string) {
		if x, r := parseGaps(s, 10, spacing); r == nil && !spacing.Contains(x) {
			t.Fatalf("%q over 10 gaps is %g cm", s, x)
		}
	})
}

func FuzzParseWidths(f *testing.F) {
	fuzzEntries(f, "widths", func(t *testing.T, s string) {
		w, r := parseWidths(s, Range{5, 60})
		if r == nil && !(w.From >= 5 && w.From < w.To && w.To <= 60) {
			t.Fatalf("%q is %v", s, w)
		}
		usual := ToolWidth.Usual
		w, d, r := AdjustableTool(s, 0)
		if r == nil && d.Why == Corrected && !(usual.Contains(w.From) && w.From < w.To && usual.Contains(w.To)) {
			t.Fatalf("%q is corrected to %v cm", s, w)
		}
	})
}

func FuzzReadSpacing(f *testing.F) {
	fuzzEntries(f, "spacing", func(t *testing.T, s string) {
		x, d, r := ReadSpacing(s)
		if r != nil {
			return
		}
		if !RowSpacing.Contains(x.Row) || x.Hill != 0 && !HillSpacing.Contains(x.Hill) {
			t.Fatalf("%q is %v", s, x)
		}
		if d.Meant != nil && !(RowSpacing.Usual.Contains(d.Meant.Row) && d.Why == Unusual) {
			t.Fatalf("%q offers %v", s, *d.Meant)
		}
	})
}
