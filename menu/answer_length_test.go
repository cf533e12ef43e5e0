package menu

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var spacing = limits{5, 100}

func TestParseCM(t *testing.T) {
	for _, c := range []struct {
		in   string
		want string // in cm, or the refusal
	}{
		{"20", "20"}, {"20cm", "20"}, {"20 cm", "20"}, {"20 CM.", "20"}, {"0.2 m", "20"}, {"0,2m", "20"}, {"200 mm", "20"}, {"20,5", "20.5"}, {"20.5", "20.5"},
		{"22.54", "22.5"}, {"(20)", "20"}, {"২০", "20"}, {"２０ｃｍ", "20"}, {"5", "5"}, {"100", "100"}, {"1 m", "100"}, {"٢٠٫٥", "20.5"},
		{"0.25", "25"}, {"0,25", "25"}, {",25", "25"}, {".25", "25"}, // can only be metres
		{"", "refuse.empty"},
		{"1", "refuse.length-range"}, {"4.9", "refuse.length-range"}, {"101", "refuse.length-range"}, {"20 m", "refuse.length-range"}, {"0", "refuse.length-range"}, {"20 h", "refuse.length"}, {"m 0.2", "20"}, {"cm 20", "20"}, {"cm20", "20"}, {"20 centimetres", "20"}, {"20 mètres", "refuse.length-range"}, {"0,2 mètre", "20"}, {"sentimita 20", "20"},
		{"20 सेमी", "20"}, {"20 से.मी.", "20"}, {"20 से मी", "20"}, {"२० सेंटीमीटर", "20"}, {"0,2 metros", "20"}, {"20 sentimeter", "20"}, {"2.5", "refuse.length-range"},
		{"20x20", "refuse.length"}, {"20-25", "refuse.length"}, {"twenty", "refuse.length"}, {"-20", "refuse.length"}, {"20 feet", "refuse.length"}, {"2 0", "refuse.length"},
		{"20.5.1", "refuse.length"}, {"20,", "refuse.length"}, {"cm", "refuse.length"}, {"99999999", "refuse.length"}, {"1e1", "refuse.length"}, {"NaN", "refuse.length"}, {"inf", "refuse.length"},
	} {
		x, r := parseCM(c.in, spacing)
		wantRead(t, c.in, numberEN(x), r, c.want)
	}
	_, r := parseCM("250", spacing)
	if r.Args["cm"] != number(250) || r.Args["from"] != number(5) || r.Args["to"] != number(100) {
		t.Errorf("args %v", r.Args)
	}
}

// wantRead holds a parser's result, or its refusal's key, against what is wanted.
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
		{"220", 10, "22"}, {"2.2 m", 10, "22"}, {"2,2m", 10, "22"}, {"225 cm", 10, "22.5"}, {"2.2", 10, "22"}, {"2", 10, "20"}, {"2250mm", 10, "22.5"}, {"100", 3, "33.3"},
		{"50", 10, "5"}, {"1000", 10, "100"}, {"10 m", 10, "100"},
		{"", 10, "refuse.empty"}, {"20 rows", 10, "refuse.length"},
		{"20", 10, "refuse.gaps-range"}, {"1100", 10, "refuse.gaps-range"}, {"220 m", 10, "refuse.gaps-range"}, {"2.2 cm", 10, "refuse.gaps-range"}, {"0", 10, "refuse.gaps-range"},
	} {
		x, r := parseGaps(c.in, c.gaps, spacing)
		wantRead(t, c.in, numberEN(x), r, c.want)
	}
	_, r := parseGaps("20", 10, spacing)
	if r.Args["cm"] != number(20) || r.Args["each"] != number(2) || r.Args["from"] != number(50) || r.Args["to"] != number(1000) || r.Args["gaps"] != 10 {
		t.Errorf("args %v", r.Args)
	}
}

func TestParseWidths(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"10-15", "10-15"}, {"10 to 15", "10-15"}, {"10to15", "10-15"}, {"10/15", "10-15"}, {"10 15", "10-15"}, {"10 - 15 cm", "10-15"}, {"10cm-15cm", "10-15"}, {"10–15", "10-15"},
		{"15-10", "10-15"}, {"12.5-17,5", "12.5-17.5"}, {"0.1-0.15 m", "10-15"}, {"10, 15", "10-15"}, {"১০-১৫", "10-15"}, {"10 cm 15 cm", "10-15"},
		{"", "refuse.empty"}, {"10", "refuse.widths"}, {"10-10", "refuse.widths"}, {"10,15", "refuse.widths"}, {"10-15-20", "refuse.widths"}, {"ten to 15", "refuse.widths"}, {"10 or 15", "refuse.widths"}, {"10 à 15 cm", "10-15"}, {"10 hadi 15", "10-15"}, {"sm 10 hadi sm 15", "10-15"}, {"10 से 15 सेमी", "10-15"}, {"१० से १५", "10-15"}, {"10 até 15", "10-15"}, {"10 sampai 15", "10-15"},
		{"1015", "refuse.widths"}, {"-10-15", "refuse.widths"},
		{"2-15", "refuse.length-range"}, {"10-80", "refuse.length-range"},
	} {
		a, b, r := parseWidths(c.in, limits{5, 60})
		wantRead(t, c.in, numberEN(a)+"-"+numberEN(b), r, c.want)
	}
	if _, _, r := parseWidths("10-80", limits{5, 60}); r.Args["cm"] != number(80) {
		t.Errorf("the refusal names %v, not the width out of range", r.Args["cm"])
	}
}

// A length means the same in cm, mm and m.
func TestUnitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := rapid.IntRange(50, 1000).Draw(t, "mm")
		want := float64(mm) / 10
		for _, entry := range []string{
			fmt.Sprintf("%d mm", mm), fmt.Sprintf("%d.%d", mm/10, mm%10), fmt.Sprintf("%d,%dcm", mm/10, mm%10), fmt.Sprintf("%d.%03d m", mm/1000, mm%1000),
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
	for _, s := range corpus(f, "length") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, r := parseCM(s, spacing)
		if r == nil && (!spacing.hold(x) || x != tenth(x)) {
			t.Fatalf("%q is %g cm", s, x)
		}
		readBack(t, "length", s)
		if cm, guessed, r := likelyCM(s, spacing, usualRows); r == nil && guessed && !usualRows.hold(cm) {
			t.Fatalf("%q is taken for %g cm", s, cm)
		}
	})
}

func FuzzParseGaps(f *testing.F) {
	for _, s := range corpus(f, "gaps") {
		f.Add(s, 10)
		f.Add(s, 4)
	}
	f.Fuzz(func(t *testing.T, s string, n int) {
		gaps := 1 + (n%20+20)%20
		x, r := parseGaps(s, gaps, spacing)
		if r != nil {
			wantRefusal(t, s, r)
			return
		}
		whole := numberEN(x*float64(gaps)) + " cm"
		if again, r := parseGaps(whole, gaps, spacing); r != nil || again != x || !spacing.hold(x) {
			t.Fatalf("%q over %d gaps is %g cm, and %s is %g, %v", s, gaps, x, whole, again, r)
		}
	})
}

func FuzzParseWidths(f *testing.F) {
	for _, s := range corpus(f, "widths") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, b, r := parseWidths(s, limits{5, 60})
		if r == nil && !(a >= 5 && a < b && b <= 60) {
			t.Fatalf("%q is %g to %g", s, a, b)
		}
		readBack(t, "widths", s)
		if a, b, guessed, r := likelyWidths(s, toolLimits, usualTools); r == nil && guessed && !(usualTools.hold(a) && a < b && usualTools.hold(b)) {
			t.Fatalf("%q is taken for %g to %g cm", s, a, b)
		}
	})
}

// metric is sides in m, area in m2.
var metric = areaUnits{SideM: 1, M2: 1}

func TestParseArea(t *testing.T) {
	steps := areaUnits{SideM: 0.75, M2: 1}
	local := areaUnits{SideM: 1, M2: 1600}
	named := areaUnits{SideM: 1, M2: 1, Local: localUnits([]AreaUnit{{"bigha", 1337.8}, {"katha", 66.9}, {"कट्ठा", 66.9}})} // sizes differ from place to place
	for _, c := range []struct {
		in   string
		u    areaUnits
		want string // m2 (sides), or the refusal
	}{
		{"20x30", metric, "600 (20x30)"}, {"20 x 30", metric, "600 (20x30)"}, {"20*30", metric, "600 (20x30)"}, {"20 by 30", metric, "600 (20x30)"}, {"20 30", metric, "600 (20x30)"},
		{"20×30", metric, "600 (20x30)"}, {"20X30 M", metric, "600 (20x30)"}, {"20mx30m", metric, "600 (20x30)"}, {"20 m x 30 m", metric, "600 (20x30)"}, {"12,5x20", metric, "250 (12.5x20)"},
		{"20/30", metric, "600 (20x30)"}, {"২০x৩০", metric, "600 (20x30)"},
		{"600", metric, "600"}, {"600m2", metric, "600"}, {"600 m2", metric, "600"}, {"600 m²", metric, "600"}, {"600 sqm", metric, "600"}, {"600.5", metric, "600.5"},
		{"0.06 ha", metric, "600"}, {"1,200", metric, "1200"}, {"1 200", metric, "1200"}, {"10 000 m2", metric, "10000"}, {"1.200", metric, "1200"}, {"12,500 m2", metric, "12500"}, {"1000000", metric, "1000000"}, {"1,000,000", metric, "1000000"},
		{"25x40", steps, "562.5 (18.75x30)"}, {"25 x 40 m", steps, "1000 (25x40)"}, {"600", steps, "600"},
		{"600 mètres carrés", metric, "600"}, {"mita za mraba 600", metric, "600"}, {"600 वर्ग मीटर", metric, "600"}, {"600 metros quadrados", metric, "600"}, {"600 meter persegi", metric, "600"}, {"0,06 hektar", metric, "600"}, {"हेक्टेयर 0.06", metric, "600"},
		{"2 katha", named, "133.8"}, {"2 Kathas", named, "133.8"}, {"katha 2", named, "133.8"}, {"2katha", named, "133.8"}, {"1 bigha 5 katha", named, "1672.3"}, {"1 bigha, 5 katha", named, "1672.3"}, {"0,5 bigha", named, "668.9"}, {"2 कट्ठा", named, "133.8"}, {"600 m2", named, "600"}, {"600", named, "600"},
		{"2 acres", named, "refuse.area"}, {"katha", named, "refuse.area"}, {"2 katha 3", named, "refuse.area"}, {"2 katha x 3 katha", named, "refuse.area"}, {"2 katha", metric, "refuse.area"},
		{"0.5", local, "800"}, {"2", local, "3200"}, {"600 m2", local, "600"}, {"1 ha", local, "10000"},
		{"", metric, "refuse.empty"},
		{"big", metric, "refuse.area"}, {"20x", metric, "refuse.area"}, {"x30", metric, "refuse.area"}, {"20x30x40", metric, "refuse.area"}, {"-600", metric, "refuse.area"}, {"600 acres", metric, "refuse.area"},
		{"6oo", metric, "refuse.area"}, {"1,20,000", metric, "refuse.area"}, {"m2", metric, "refuse.area"}, {"600 m", metric, "refuse.area"}, {"1,200,000,000,000", metric, "refuse.area"},
		{"2", metric, "refuse.area-range"}, {"0", metric, "refuse.area-range"}, {"1000001", metric, "refuse.area-range"}, {"200 ha", metric, "refuse.area-range"}, {"0x30", metric, "refuse.area-range"}, {"9999999x9999999", metric, "refuse.area-range"},
	} {
		a, r := parseArea(c.in, c.u, limits{10, 1_000_000})
		got := numberEN(a.M2)
		if a.A != 0 {
			got = fmt.Sprintf("%s (%gx%g)", got, a.A, a.B)
		}
		wantRead(t, c.in, got, r, c.want)
	}
}

func FuzzParseArea(f *testing.F) {
	for _, s := range corpus(f, "area") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		all := limits{1, 1_000_000}
		a, r := parseArea(s, metric, all)
		if r == nil && (!all.hold(a.M2) || a.A != 0 && math.Abs(a.A*a.B-a.M2) > 0.051) {
			t.Fatalf("%q is %g m2, sides %g and %g", s, a.M2, a.A, a.B)
		}
		readBack(t, "area", s)
		// Sides may be typed either way round, and steps of 1 m are metres.
		if left, right, ok := strings.Cut(s, "x"); ok && !strings.Contains(right, "x") && clean(left) == left && clean(right) == right {
			b, rb := parseArea(right+"x"+left, metric, all)
			if a.A != 0 && (rb != nil || b.M2 != a.M2) {
				t.Fatalf("%q is %g m2, turned round %g, %v", s, a.M2, b.M2, rb)
			}
		}
	})
}
