package answer

import (
	"fmt"
	"strings"
	"testing"
)

// metric has the units of a screen that reads a side without a unit in m and an area without a unit in m2.
var metric = AreaUnits{SideM: 1, M2: 1, StepM: 0.75}

func TestParseArea(t *testing.T) {
	steps := AreaUnits{SideM: 0.75, StepM: 0.75}
	local := AreaUnits{SideM: 1, M2: 1600, Unit: "bigha"}
	// These sizes are examples: a bigha or a katha differs from place to place.
	named := AreaUnits{SideM: 1, M2: 1,
		Local: NewLocalUnits([]AreaUnit{{"bigha", 1337.8}, {"katha", 66.9}, {"कट्ठा", 66.9}})}
	for _, c := range []struct {
		in   string
		u    AreaUnits
		want string // the area in m2 and the sides in m, or the key of the refusal
	}{
		{"20x30", metric, "600 (20x30 m)"}, {"20 x 30", metric, "600 (20x30 m)"}, {"20*30", metric, "600 (20x30 m)"},
		{"20 by 30", metric, "600 (20x30 m)"}, {"20 30", metric, "600 (20x30 m)"}, {"20×30", metric, "600 (20x30 m)"},
		{"20X30 M", metric, "600 (20x30 m)"}, {"20mx30m", metric, "600 (20x30 m)"},
		{"20 m x 30 m", metric, "600 (20x30 m)"},
		{"12,5x20", metric, "250 (12.5x20 m)"}, {"20/30", metric, "600 (20x30 m)"}, {"২০x৩০", metric, "600 (20x30 m)"},
		{"600", metric, "600"}, {"600m2", metric, "600"}, {"600 m2", metric, "600"}, {"600 m²", metric, "600"},
		{"600 sqm", metric, "600"}, {"600.5", metric, "600.5"}, {"0.06 ha", metric, "600 (0.06 ha)"},
		{"1,200", metric, "1200"},
		{"1 200", metric, "1200"}, {"10 000 m2", metric, "10000"}, {"1.200", metric, "1200"},
		{"12,500 m2", metric, "12500"}, {"1000000", metric, "1000000"}, {"1,000,000", metric, "1000000"},
		{"25x40", steps, "562.5 (25x40 st)"}, {"25 x 40 m", steps, "1000 (25x40 m)"}, {"600", steps, "refuse.steps"},
		{"600 m2", steps, "600"},
		{"600 mètres carrés", metric, "600"}, {"mita za mraba 600", metric, "600"}, {"600 वर्ग मीटर", metric, "600"},
		{"600 metros quadrados", metric, "600"}, {"600 meter persegi", metric, "600"},
		{"0,06 hektar", metric, "600 (0.06 ha)"},
		{"हेक्टेयर 0.06", metric, "600 (0.06 ha)"}, {"2 katha", named, "133.8 (2 katha)"},
		{"2 Kathas", named, "133.8 (2 katha)"},
		{"katha 2", named, "133.8 (2 katha)"}, {"2katha", named, "133.8 (2 katha)"},
		{"1 bigha 5 katha", named, "1672.3"},
		{"1 bigha, 5 katha", named, "1672.3"}, {"0,5 bigha", named, "668.9 (0.5 bigha)"},
		{"2 कट्ठा", named, "133.8 (2 कट्ठा)"},
		{"600 m2", named, "600"}, {"600", named, "600"}, {"2 acres", named, "8093.7 (2 acre)"},
		{"katha", named, "refuse.area"}, {"2 katha 3", named, "refuse.area"},
		{"2 katha x 3 katha", named, "refuse.area"}, {"2 katha", metric, "refuse.area"},
		{"0.5", local, "800 (0.5 bigha)"},
		{"2", local, "3200 (2 bigha)"}, {"600 m2", local, "600"}, {"1 ha", local, "10000 (1 ha)"},
		{"", metric, "refuse.empty"},
		{"big", metric, "refuse.area"}, {"20x", metric, "refuse.area"}, {"x30", metric, "refuse.area"},
		{"20x30x40", metric, "refuse.area"}, {"20x+30", metric, "refuse.area"},
		{"\x0120", metric, "refuse.area"}, {"-600", metric, "refuse.area"},
		{"600 acres", metric, "refuse.area-range"},
		{"6oo", metric, "600"}, {"1,20,000", metric, "refuse.area"}, {"m2", metric, "refuse.area"},
		{"600 m", metric, "refuse.area"}, {"1,200,000,000,000", metric, "refuse.area"},
		{"2", metric, "refuse.area-range"}, {"0", metric, "refuse.area-range"},
		{"1000001", metric, "refuse.area-range"}, {"200 ha", metric, "refuse.area-range"},
		{"0x30", metric, "refuse.area"}, {"9999999x9999999", metric, "refuse.area-range"},
	} {
		all, r := c.u.read(c.in, Range{10, 1_000_000})
		wantRead(t, c.in, sizesOf(all), r, c.want)
	}
}

// sizesOf writes the sizes that an entry can mean: the area in m2 and, in brackets, what was typed.
func sizesOf(all []Size) string {
	var out []string
	for _, a := range all {
		switch {
		case a.A > 0:
			out = append(out, fmt.Sprintf("%g (%gx%g %s)", a.M2, a.A, a.B, a.Unit))
		case a.Unit == UnitM2:
			out = append(out, exact(a.M2))
		default:
			out = append(out, fmt.Sprintf("%g (%g %s)", a.M2, a.N, a.Unit))
		}
	}
	return strings.Join(out, " or ")
}

func FuzzParseArea(f *testing.F) {
	fuzzEntries(f, "area", func(t *testing.T, s string) {
		a, d, r := Area(s, metric)
		if r == nil && !areaLimits.Contains(a.M2) || d.Meant != nil && !areaLimits.Contains(d.Meant.M2) {
			t.Fatalf("%q is %v, meant %v", s, a, d.Meant)
		}
		// If the two sides change places, the area must stay the same.
		if left, right, ok := strings.Cut(s, "x"); ok && !strings.Contains(right, "x") && Clean(left) == left &&
			Clean(right) == right {
			b, _, rb := Area(right+"x"+left, metric)
			if a.A != 0 && (rb != nil || b.M2 != a.M2) {
				t.Fatalf("%q is %v, turned round %v, %v", s, a, b, rb)
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
