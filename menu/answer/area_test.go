package answer

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// metric has the units of a screen that reads a side without a unit in m and an area without a unit in m2.
var metric = AreaUnits{SideM: 1, M2: 1}

func TestParseArea(t *testing.T) {
	steps := AreaUnits{SideM: 0.75, M2: 1}
	local := AreaUnits{SideM: 1, M2: 1600}
	// These sizes are examples: a bigha or a katha differs from place to place.
	named := AreaUnits{SideM: 1, M2: 1,
		Local: NewLocalUnits([]AreaUnit{{"bigha", 1337.8}, {"katha", 66.9}, {"कट्ठा", 66.9}})}
	for _, c := range []struct {
		in   string
		u    AreaUnits
		want string // the area in m2 and the sides in m, or the key of the refusal
	}{
		{"20x30", metric, "600 (20x30)"}, {"20 x 30", metric, "600 (20x30)"}, {"20*30", metric, "600 (20x30)"},
		{"20 by 30", metric, "600 (20x30)"}, {"20 30", metric, "600 (20x30)"}, {"20×30", metric, "600 (20x30)"},
		{"20X30 M", metric, "600 (20x30)"}, {"20mx30m", metric, "600 (20x30)"}, {"20 m x 30 m", metric, "600 (20x30)"},
		{"12,5x20", metric, "250 (12.5x20)"}, {"20/30", metric, "600 (20x30)"}, {"২০x৩০", metric, "600 (20x30)"},
		{"600", metric, "600"}, {"600m2", metric, "600"}, {"600 m2", metric, "600"}, {"600 m²", metric, "600"},
		{"600 sqm", metric, "600"}, {"600.5", metric, "600.5"}, {"0.06 ha", metric, "600"}, {"1,200", metric, "1200"},
		{"1 200", metric, "1200"}, {"10 000 m2", metric, "10000"}, {"1.200", metric, "1200"},
		{"12,500 m2", metric, "12500"}, {"1000000", metric, "1000000"}, {"1,000,000", metric, "1000000"},
		{"25x40", steps, "562.5 (18.75x30)"}, {"25 x 40 m", steps, "1000 (25x40)"}, {"600", steps, "600"},
		{"600 mètres carrés", metric, "600"}, {"mita za mraba 600", metric, "600"}, {"600 वर्ग मीटर", metric, "600"},
		{"600 metros quadrados", metric, "600"}, {"600 meter persegi", metric, "600"}, {"0,06 hektar", metric, "600"},
		{"हेक्टेयर 0.06", metric, "600"}, {"2 katha", named, "133.8"}, {"2 Kathas", named, "133.8"},
		{"katha 2", named, "133.8"}, {"2katha", named, "133.8"}, {"1 bigha 5 katha", named, "1672.3"},
		{"1 bigha, 5 katha", named, "1672.3"}, {"0,5 bigha", named, "668.9"}, {"2 कट्ठा", named, "133.8"},
		{"600 m2", named, "600"}, {"600", named, "600"}, {"2 acres", named, "refuse.area"},
		{"katha", named, "refuse.area"}, {"2 katha 3", named, "refuse.area"},
		{"2 katha x 3 katha", named, "refuse.area"}, {"2 katha", metric, "refuse.area"}, {"0.5", local, "800"},
		{"2", local, "3200"}, {"600 m2", local, "600"}, {"1 ha", local, "10000"}, {"", metric, "refuse.empty"},
		{"big", metric, "refuse.area"}, {"20x", metric, "refuse.area"}, {"x30", metric, "refuse.area"},
		{"20x30x40", metric, "refuse.area"}, {"-600", metric, "refuse.area"}, {"600 acres", metric, "refuse.area"},
		{"6oo", metric, "refuse.area"}, {"1,20,000", metric, "refuse.area"}, {"m2", metric, "refuse.area"},
		{"600 m", metric, "refuse.area"}, {"1,200,000,000,000", metric, "refuse.area"},
		{"2", metric, "refuse.area-range"}, {"0", metric, "refuse.area-range"},
		{"1000001", metric, "refuse.area-range"}, {"200 ha", metric, "refuse.area-range"},
		{"0x30", metric, "refuse.area-range"}, {"9999999x9999999", metric, "refuse.area-range"},
	} {
		a, r := parseArea(c.in, c.u, Range{10, 1_000_000})
		got := tenths(a.m2)
		if a.length != 0 {
			got = fmt.Sprintf("%s (%gx%g)", got, a.length, a.width)
		}
		wantRead(t, c.in, got, r, c.want)
	}
}

func FuzzParseArea(f *testing.F) {
	fuzzEntries(f, "area", func(t *testing.T, s string) {
		all := Range{1, 1_000_000}
		a, r := parseArea(s, metric, all)
		if r == nil && (!all.Contains(a.m2) || a.length != 0 && math.Abs(a.length*a.width-a.m2) > 0.051) {
			t.Fatalf("%q is %g m2, sides %g and %g", s, a.m2, a.length, a.width)
		}
		// If the two sides change places, the area must stay the same.
		if left, right, ok := strings.Cut(s, "x"); ok && !strings.Contains(right, "x") && Clean(left) == left &&
			Clean(right) == right {
			b, rb := parseArea(right+"x"+left, metric, all)
			if a.length != 0 && (rb != nil || b.m2 != a.m2) {
				t.Fatalf("%q is %g m2, turned round %g, %v", s, a.m2, b.m2, rb)
			}
		}
	})
}

func TestParseSides(t *testing.T) {
	for _, c := range []struct {
		in    string
		sideM float64
		want  string
	}{
		{"20*30", 1, "20 30"}, {"30x20", 1, "30 20"}, {"20 by 30", 1, "20 30"}, {"20.5 m x 30 m", 1, "20.5 30"},
		{"1*1", 1, "1 1"}, {"5000*200", 1, "5000 200"}, {"40*20", 0.75, "30 15"}, {"40 m * 20 m", 0.75, "40 20"},
		{"40 steps x 20 steps", 0.75, "30 15"}, {"40 pas par 20 pas", 1, "30 15"},
		{"hatua 40 kwa hatua 20", 1, "30 15"}, {"40 कदम x 20 कदम", 1, "30 15"}, {"20 mètres sur 30", 1, "20 30"},
		{"mita 20 kwa 30", 1, "20 30"}, {"२० मीटर x ३० मीटर", 1, "20 30"}, {"20 por 30 metros", 1, "20 30"},
		{"20 meter kali 30 meter", 1, "20 30"}, {"20m x 30 steps", 1, "refuse.sides"}, {"", 1, "refuse.empty"},
		{"600", 1, "refuse.sides"}, {"0.5 ha", 1, "refuse.sides"}, {"wide", 1, "refuse.sides"},
		{"20*30*40", 1, "refuse.sides"}, {"0.5*30", 1, "refuse.sides"}, {"30*0", 1, "refuse.sides"},
		{"5001*2", 1, "refuse.sides"}, {"1*30", 0.75, "refuse.sides"}, {"5000*201", 1, "refuse.area-range"},
	} {
		sides, _, r := ReadSides(c.in, AreaUnits{SideM: c.sideM, M2: 1, StepM: 0.75})
		wantRead(t, c.in, joined([]float64{sides.Length, sides.Width}), r, c.want)
	}
}

func FuzzParseSides(f *testing.F) {
	seed(f, "sides", 1.0, 0.75)
	f.Fuzz(func(t *testing.T, s string, sideM float64) {
		if !(sideM > 0 && sideM < 10) {
			t.Skip()
		}
		sides, d, r := ReadSides(s, AreaUnits{SideM: sideM, M2: 1, StepM: 0.75})
		if r != nil {
			wantRefusal(t, s, r)
			return
		}
		within := func(x Sides) bool {
			return sideLimits.Contains(x.Length) && sideLimits.Contains(x.Width) &&
				areaLimits.Contains(tenth(x.Length*x.Width))
		}
		if !within(sides) || d.Meant != nil && !within(*d.Meant) {
			t.Fatalf("%q: %v, meant %v", s, sides, d.Meant)
		}
		readBack(t, "sides", s)
	})
}
