package answer

import (
	"fmt"
	"testing"
)

// judged writes what a parser returned. "25" is a value without a doubt; "25 corrected" and "52 unusual" are a value
// and the reason of its doubt; "52 unusual, 25?" also has the value that the doubt offers instead. If the entry was
// refused, judged returns the key of the refusal.
func judged[T any](v T, d Doubt[T], r *Refusal) string {
	if r != nil {
		return string(r.Key)
	}
	why := map[Why]string{NoDoubt: "", Unusual: " unusual", Corrected: " corrected", NoFit: " no fit"}[d.Why]
	if d.Meant != nil {
		why += fmt.Sprintf(", %v?", *d.Meant)
	}
	return fmt.Sprint(v) + why
}

// judgedSize is judged for sizes, which it writes as sizesOf does.
func judgedSize(a Size, d Doubt[Size], r *Refusal) string {
	doubt := Doubt[string]{Why: d.Why}
	if d.Meant != nil {
		other := sizesOf([]Size{*d.Meant})
		doubt.Meant = &other
	}
	return judged(sizesOf([]Size{a}), doubt, r)
}

func TestDoubts(t *testing.T) {
	row := func(s string) string { return judged(CM(s, RowSpacing)) }
	hill := func(s string) string { return judged(CM(s, HillSpacing)) }
	gaps := func(s string) string { return judged(Gaps(s, 10, RowSpacing)) }
	tool := func(s string) string { return judged(Tool(s, 20)) } // the tool is for rows 20 cm apart
	alone := func(s string) string { return judged(Tool(s, 0)) }
	rows := func(s string) string { return judged(Rows(s)) }
	units := AreaUnits{SideM: 1, M2: 1, StepM: 0.75, Local: NewLocalUnits([]AreaUnit{{"bigha", 1337.8},
		{"katha", 66.9}})}
	area := func(s string) string { return judgedSize(Area(s, units)) }
	sides := func(s string) string { return judged(ReadSides(s, units)) }
	hours := func(s string) string { return judged(Hours(s, 600)) } // the weeded plot has 600 m2
	hectare := func(s string) string { return judged(Hours(s, 10_000)) }
	day := func(s string) string { return judged(DayHours(s)) }
	for _, c := range []struct {
		read func(string) string
		want map[string]string
	}{
		{row, map[string]string{
			"52": "52 unusual, 25?", "12": "12 unusual, 21?", "60": "60 unusual", "250": "25 corrected",
			"200": "20 corrected", "2.5": "25 corrected", "२५०": "25 corrected", "15": "15", "40": "40",
			"14.9": "14.9 unusual",
			"40.1": "40.1 unusual", "22.5": "22.5", "0.25": "25", "250 mm": "25", "25 सेमी": "25", "44": "44 unusual",
			"3": "30 corrected", "1": "refuse.length-range", "1000 cm": "refuse.length-range",
			"9000": "refuse.length-range"}},
		{gaps, map[string]string{"22": "22 corrected", "2200": "22 corrected", "520": "52 unusual, 25?", "220": "22",
			"2,2 m": "22", "22 cm": "refuse.gaps-range"}},
		{hill, map[string]string{"52": "52 unusual, 25?", "150": "15 corrected", "45": "45 unusual", "10": "10",
			"25": "25", "40": "40"}},
		{tool, map[string]string{
			"51": "{51 51} no fit, {15 15}?", "25": "{25 25} no fit", "20": "{20 20} no fit", "20-25": "{20 25} no fit",
			"150": "{15 15} corrected", "1.5": "{15 15} corrected", "100-150": "{10 15} corrected", "18": "{18 18}",
			"18.5": "{18.5 18.5} no fit", "15": "{15 15}", "10-25": "{10 25}", "6": "{6 6} unusual",
			"wide": "refuse.length",
			"81":   "{8.1 8.1} corrected", "9000": "refuse.length-range", "100-150 cm": "refuse.length"}},
		{alone, map[string]string{"51": "{51 51} unusual, {15 15}?", "31": "{31 31} unusual, {13 13}?", "30": "{30 30}",
			"37.5-57.5": "{37.5 57.5} unusual", "8-30": "{8 30}", "7.9-30": "{7.9 30} unusual", "8": "{8 8}"}},
		{rows, map[string]string{"20": "{20 20}", "20 25": "{20 25}", "20,25": "{20 25}", "25-20": "{20 25}",
			"52": "{52 52} unusual, {25 25}?", "52 20": "{20 52} unusual, {20 25}?", "60": "{60 60} unusual",
			"20 60": "{20 60} unusual", "2 20": "refuse.length-range", "two": "refuse.length"}},
		{area, map[string]string{
			"200*300": "60000 (200x300 m) unusual, 600 (20x30 m)?", "6 ha": "60000 (6 ha) unusual",
			"30000": "30000 unusual, 3000?", "500000": "500000 unusual", "2*3": "6 (2x3 m) unusual",
			"90 bigha": "120402 (90 bigha) unusual", "2 katha": "133.8 (2 katha)", "20*30": "600 (20x30 m)",
			"2 ha": "20000 (2 ha) unusual, 2000 (0.2 ha)?", "100*200": "20000 (100x200 m)",
			"६०० वर्ग मीटर": "600", "40*50 steps": "1125 (40x50 st)", "49": "49 unusual", "50": "50", "5000": "5000",
			"5001": "5001 unusual, 500.1?"}},
		{sides, map[string]string{"200*300": "{200 300} unusual, {20 30}?", "20*30": "{20 30}", "2*3": "{2 3} unusual",
			"5*5000": "{5 5000} unusual", "100*200": "{100 200}", "1000*900": "{1000 900} unusual, {100 90}?"}},
		{hours, map[string]string{"25": "25 unusual, 2.5?", "25 heures": "25 unusual, 2.5?", "24": "24", "2.5": "2.5",
			"24.1": "24.1 unusual, 2.4?", "masaa 3": "3"}},
		{hectare, map[string]string{"25": "25", "499": "499 unusual, 49.9?"}},
		{day, map[string]string{"75": "7.5 corrected", "6": "6", "2h30": "2.5", "12": "12", "20": "2 corrected",
			"130": "refuse.hours-range", "75 h": "refuse.hours-range"}},
	} {
		for in, want := range c.want {
			if got := c.read(in); got != want {
				t.Errorf("%q: %s, want %s", in, got, want)
			}
		}
	}
}

func TestDoubtsOfSpacing(t *testing.T) {
	for in, want := range map[string]string{
		"20*25": "{20 25}", "25x25": "{25 25}", "22": "{22 0}", "20 by 15 cm": "{20 15}",
		"2025": "{20 25} corrected", "20,25": "{20 25}", "0.2*0.25": "{20 25}", "250x250": "{25 25} corrected",
		"250 mm x 200 mm": "{25 20}", "0.2x0.15 m": "{20 15}", "52*25": "{52 25} unusual, {25 25}?",
		"52*51": "{52 51} unusual, {25 15}?", "60*25": "{60 25} unusual", "60*51": "{60 51} unusual",
		"25*250": "{25 25} corrected", "52": "{52 0} unusual, {25 0}?", "250": "{25 0} corrected",
		"20*2000": "refuse.length-range", "20*20*20": "refuse.spacing", "two": "refuse.spacing",
		"1*20": "refuse.length-range", "1120": "refuse.length-range", "": "refuse.empty",
	} {
		if got := judged(ReadSpacing(in)); got != want {
			t.Errorf("%q: %s, want %s", in, got, want)
		}
	}
}
