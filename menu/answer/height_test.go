package answer

import (
	"strings"
	"testing"
)

// joined writes heights with spaces between them.
func joined(cm []float64) string {
	var all []string
	for _, x := range cm {
		all = append(all, tenths(x))
	}
	return strings.Join(all, " ")
}

func TestParseHeights(t *testing.T) {
	for _, c := range []struct {
		in   string
		want string // the heights in cm, or the key of the refusal
	}{
		{"165", "165"}, {"165 cm", "165"}, {"165CM.", "165"}, {"1650 mm", "165"}, {"165.5", "165.5"}, {"120", "120"},
		{"220", "220"}, {"১৬৫", "165"}, {"1.65", "165"}, {"1,65", "165"}, {"1.65 m", "165"}, {"1,6 m", "160"},
		{"2 m", "200"}, {"2", "200"}, {"1m65", "165"}, {"1 m 65", "165"}, {"5ft4", "162.6"}, {"5 ft 4 in", "162.6"},
		{"5'4\"", "162.6"}, {"5’4”", "162.6"}, {"5 feet", "152.4"}, {"5 foot 11 inches", "180.3"}, {"6ft", "182.9"},
		{"5ft0", "152.4"}, {"165 150", "165 150"}, {"165, 150", "165 150"}, {"165,150", "165 150"},
		{"165/150", "165 150"}, {"165*150", "165 150"}, {"165; 150", "165 150"}, {"1,65 m 150", "165 150"},
		{"1m65 and 1m50", "165 150"}, {"165-150", "165 150"}, {"165 and 150", "165 150"},
		{"1.65 1.50", "165 150"}, {"1,65, 1,50", "165 150"}, {"1.65 m, 150 cm", "165 150"},
		{"165 cm 150 cm", "165 150"}, {"5ft4 5ft 160", "162.6 152.4 160"}, {"5'4 5'2", "162.6 157.5"},
		{"5ft 160", "152.4 160"}, {"150 151 152 153 154 155 156 157 158", "150 151 152 153 154 155 156 157 158"},
		{"", "refuse.empty"}, {"()", "refuse.empty"}, {"tall", "refuse.heights"}, {"165 tall", "refuse.heights"},
		{"5ft12", "refuse.heights"}, {"165cm150", "refuse.heights"}, {"165,", "refuse.heights"},
		{"-165", "refuse.heights"}, {"150 151 152 153 154 155 156 157 158 159", "refuse.heights"},
		{"1e2", "refuse.heights"}, {"NaN", "refuse.heights"}, {"16500", "refuse.heights"},
		{"165;;150", "refuse.heights"}, {"119", "refuse.length-range"}, {"221", "refuse.length-range"},
		{"1", "refuse.length-range"}, {"20", "refuse.length-range"}, {"5 4", "refuse.length-range"},
		{"165 20", "refuse.length-range"}, {"9ft", "refuse.length-range"}, {"165 m", "refuse.length-range"},
		{"1m05", "refuse.length-range"},
	} {
		heights, r := Heights(c.in)
		wantRead(t, c.in, joined(heights), r, c.want)
	}
	if _, r := Heights("165 20"); r.Args["cm"] != oneDecimal(20) || r.Args["from"] != oneDecimal(120) ||
		r.Args["to"] != oneDecimal(220) {
		t.Errorf("args %v", r.Args)
	}
}

func FuzzParseHeights(f *testing.F) {
	fuzzEntries(f, "heights", func(t *testing.T, s string) {
		heights, r := Heights(s)
		if r == nil && (len(heights) == 0 || len(heights) > MaxHeights) {
			t.Fatalf("%q: %v", s, heights)
		}
		for _, cm := range heights {
			if !heightLimits.Contains(cm) || cm != tenth(cm) {
				t.Fatalf("%q: %v", s, heights)
			}
		}
	})
}
