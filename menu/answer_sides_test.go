package menu

import "testing"

func TestParseSides(t *testing.T) {
	for _, c := range []struct {
		in    string
		sideM float64
		want  string
	}{
		{"20*30", 1, "20 30"}, {"30x20", 1, "30 20"}, {"20 by 30", 1, "20 30"}, {"20.5 m x 30 m", 1, "20.5 30"}, {"1*1", 1, "1 1"}, {"5000*200", 1, "5000 200"},
		{"40*20", 0.75, "30 15"}, {"40 m * 20 m", 0.75, "40 20"}, {"40 steps x 20 steps", 0.75, "30 15"}, {"40 pas par 20 pas", 1, "30 15"}, {"hatua 40 kwa hatua 20", 1, "30 15"}, {"40 कदम x 20 कदम", 1, "30 15"},
		{"20 mètres sur 30", 1, "20 30"}, {"mita 20 kwa 30", 1, "20 30"}, {"२० मीटर x ३० मीटर", 1, "20 30"}, {"20 por 30 metros", 1, "20 30"}, {"20 meter kali 30 meter", 1, "20 30"}, {"20m x 30 steps", 1, "refuse.sides"},
		{"", 1, "refuse.empty"}, {"600", 1, "refuse.sides"}, {"0.5 ha", 1, "refuse.sides"}, {"wide", 1, "refuse.sides"}, {"20*30*40", 1, "refuse.sides"},
		{"0.5*30", 1, "refuse.sides"}, {"30*0", 1, "refuse.sides"}, {"5001*2", 1, "refuse.sides"}, {"1*30", 0.75, "refuse.sides"},
		{"5000*201", 1, "refuse.area-range"},
	} {
		a, b, r := parseSides(c.in, areaUnits{SideM: c.sideM, M2: 1, StepM: 0.75})
		wantRead(t, c.in, joined([]float64{a, b}), r, c.want)
	}
}

func FuzzParseSides(f *testing.F) {
	for _, s := range corpus(f, "sides") {
		f.Add(s, 1.0)
		f.Add(s, 0.75)
	}
	f.Fuzz(func(t *testing.T, s string, sideM float64) {
		if !(sideM > 0 && sideM < 10) {
			t.Skip()
		}
		a, b, r := parseSides(s, areaUnits{SideM: sideM, M2: 1, StepM: 0.75})
		if r != nil {
			wantRefusal(t, s, r)
			return
		}
		if !sideLimits.hold(a) || !sideLimits.hold(b) || !areaLimits.hold(tenth(a*b)) {
			t.Fatalf("%q: %g, %g", s, a, b)
		}
		readBack(t, "sides", s)
	})
}
