package simulate

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"rowbell/engine"
)

// Valley returns the climate of an invented valley: warm lowland with one long rainy season.
func Valley() engine.Normals {
	minC := [...]float64{19.5, 20, 21, 22, 22.5, 22.5, 22, 22, 22, 21.5, 20.5, 19.5}
	maxC := [...]float64{28.5, 29.5, 31, 32, 32, 31, 30.5, 30.5, 30.5, 30, 29, 28}
	rain := [...]float64{20, 25, 50, 90, 160, 220, 260, 250, 220, 160, 80, 30}
	var n engine.Normals
	for m := range n {
		n[m] = engine.Normal{MinC: minC[m], MaxC: maxC[m], RainMM: rain[m]}
	}
	return n
}

// Kind is a kind of year in the valley, such as a dry year.
type Kind uint8

const (
	Normal Kind = iota // close to the usual weather
	Dry                // hot, with 35 % of the usual rain
	Wet                // mild, with 150 % of the usual rain
	Cool               // 3 °C cooler than usual
)

// kinds describes each kind of year: how far its temperatures differ from the normals, and its rain as a share of the
// normal rain. The numbers were chosen for this simulation.
var kinds = [...]struct {
	name               string
	nightC, dayC, rain float64
	rainyShare         float64 // share of days on which rain falls
}{
	Normal: {"normal", 0, 0, 1, 0.4},
	Dry:    {"dry", 0.5, 2, 0.35, 0.2},
	Wet:    {"wet", 0.5, -1.5, 1.5, 0.6},
	Cool:   {"cool", -3, -3, 1, 0.4},
}

func (k Kind) String() string {
	if int(k) < len(kinds) {
		return kinds[k].name
	}
	return fmt.Sprintf("%d?", uint8(k))
}

// Variation of the temperature from day to day. The numbers were chosen for this simulation.
const (
	persistence = 0.7 // share of a day's difference from the normal temperature that remains on the next day
	wanderC     = 1.0 // standard deviation of the random part of this difference, in °C
	leastRange  = 2.0 // least difference between a day's maximum and minimum, in °C
)

// Year invents the daily weather of the valley in a calendar year of this kind. The same kind and year always give the
// same weather. An unknown kind counts as Normal.
func Year(kind Kind, calendar int) engine.Daily {
	if int(kind) >= len(kinds) {
		kind = Normal
	}
	k, r := kinds[kind], rand.New(rand.NewPCG(uint64(calendar), uint64(kind)))
	normals := engine.Weather{Normals: Valley()}
	first, end := engine.Date(calendar, time.January, 1), engine.Date(calendar+1, time.January, 1)
	year := engine.Daily{From: first, Days: make([]engine.Measured, 0, int(end-first))}
	off := 0.0
	for d := first; d < end; d++ {
		usual := normals.On(d)
		// The conversions to float64 keep the compiler from using a fused multiply-add, which would round differently
		// on some machines.
		off = float64(persistence*off) + float64(wanderC*r.NormFloat64())
		day := engine.Measured{MinC: tenth(usual.MinC + k.nightC + off/2)}
		day.MaxC = tenth(max(usual.MaxC+k.dayC+off, day.MinC+leastRange))
		if r.Float64() < k.rainyShare {
			day.RainMM = tenth(usual.RainMM * k.rain / k.rainyShare * r.ExpFloat64())
		}
		year.Days = append(year.Days, day)
	}
	return year
}

// tenth rounds to one decimal place.
func tenth(x float64) float64 { return math.Round(10*x) / 10 }

// WriteYear writes daily weather as CSV, in the format in which the service imports the weather of a place. The first
// line is a comment with the remark. A value that was not measured is an empty field.
func WriteYear(w io.Writer, remark string, year engine.Daily) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "# %s\ndate,min_c,max_c,rain_mm\n", remark)
	for i, m := range year.Days {
		fmt.Fprint(out, year.From+engine.Day(i), ",")
		if m.HasTemperature() {
			fmt.Fprintf(out, "%.1f,%.1f,", m.MinC, m.MaxC)
		} else {
			fmt.Fprint(out, ",,")
		}
		if m.HasRain() {
			fmt.Fprintf(out, "%.1f", m.RainMM)
		}
		fmt.Fprintln(out)
	}
	return out.Flush()
}
