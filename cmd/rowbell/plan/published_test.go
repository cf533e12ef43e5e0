package plan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"rowbell/engine"
)

// condition is a plot in steady weather, planted on day 0, for which a plan is made on that day.
type condition struct {
	meanC                                 float64
	flood, method                         string
	age, duration, puddled, hillCM, rowCM int // puddled: days from the last puddling to planting; 0 = not told
}

func (c condition) String() string {
	return fmt.Sprintf("%g °C, water %q, %s, puddled %d days before, seedlings of %d days, a variety of %d days",
		c.meanC, c.flood, c.method, c.puddled, c.age, c.duration)
}

// printed are the days that the plan prints, in days after planting. absent is a day that it does not print.
type printed struct {
	windows                          [][3]int // opens, best, closes
	look, last                       int
	rows, big, panicle, pullUntil    int
	firstHand, secondHand, thirdHand [2]int
}

const absent = math.MinInt

// conditions yields every combination of temperature, water, method, puddling, seedling age and duration.
func conditions(yield func(condition) bool) {
	for meanC := 15.0; meanC <= 31; meanC++ {
		for _, flood := range []string{"kept", "on-off", "moist", ""} {
			for _, duration := range []int{0, 90, 100, 110, 120, 130, 140, 150, 160} {
				if !yield(condition{meanC: meanC, flood: flood, method: "row-sown", duration: duration, rowCM: 25}) {
					return
				}
				for _, age := range []int{12, 18, 25, 35} {
					for _, puddled := range []int{0, 5} {
						if !yield(condition{meanC: meanC, flood: flood, method: "transplanted", age: age,
							duration: duration, puddled: puddled, rowCM: 25, hillCM: 25}) {
							return
						}
					}
				}
			}
		}
	}
}

// plan returns what the plan of this condition prints as JSON on a day after planting. saw is what the grower saw on
// that day, such as 2-3; left is how many weeds a pass on that day left, such as few; "" = no look or no pass.
func (c condition) plan(t *testing.T, today int, saw, left string) (p printed) {
	t.Helper()
	planted := engine.Date(2026, 3, 1)
	now := planted + engine.Day(today)
	in := Input{Method: c.method, Planted: planted.String(), Row: float64(c.rowCM), Hill: float64(c.hillCM), Tool: "15",
		Flood: c.flood, SeedlingAge: c.age, Duration: c.duration, Today: now.String(),
		Climate: Climate{Temps: fmt.Sprintf("%g-%g", c.meanC-3, c.meanC+3)}}
	if saw != "" {
		in.Saw = []string{now.String() + ":" + saw}
	}
	if left != "" {
		in.Pass = []string{now.String() + ":tool:" + left}
	}
	if c.puddled > 0 {
		in.Puddled = (planted - engine.Day(c.puddled)).String()
	}
	report, err := New(&in, now)
	must(t, err)
	var b bytes.Buffer
	must(t, report.JSON(&b))
	type window struct {
		Opens, Best, Closes string
		Look                string `json:"look_on"`
	}
	var out struct {
		Next    *window
		Later   []window
		Last    string                      `json:"last_tool_day"`
		Rows    string                      `json:"rows_close"`
		Big     string                      `json:"plants_big"`
		Panicle string                      `json:"panicle_starts"`
		Pull    string                      `json:"pull_until"`
		Hand    []struct{ From, To string } `json:"published_hand_weedings"`
	}
	must(t, json.Unmarshal(b.Bytes(), &out))
	day := func(text string) int {
		if text == "" {
			return absent
		}
		d, err := engine.ParseDay(text)
		must(t, err)
		return int(d - planted)
	}
	p.last, p.rows, p.big, p.panicle = day(out.Last), day(out.Rows), day(out.Big), day(out.Panicle)
	p.pullUntil = day(out.Pull)
	if out.Next != nil {
		for _, w := range append([]window{*out.Next}, out.Later...) {
			p.windows = append(p.windows, [3]int{day(w.Opens), day(w.Best), day(w.Closes)})
		}
		p.look = day(out.Next.Look)
	}
	if len(out.Hand) == 3 {
		for i, days := range []*[2]int{&p.firstHand, &p.secondHand, &p.thirdHand} {
			*days = [2]int{day(out.Hand[i].From), day(out.Hand[i].To)}
		}
	}
	return p
}

// within is a published range of days.
type within struct{ from, to float64 }

func (r within) shift(days float64) within  { return within{r.from + days, r.to + days} }
func (r within) and(other within) within    { return within{min(r.from, other.from), max(r.to, other.to)} }
func (r within) notBefore(d float64) within { return within{max(r.from, d), max(r.to, d)} }
func (r within) overlaps(o within) bool     { return r.from <= o.to && o.from <= r.to }

// holds allows for the rounding of a day.
func (r within) holds(days ...int) bool {
	for _, d := range days {
		if float64(d) < math.Floor(r.from) || float64(d) > math.Ceil(r.to) {
			return false
		}
	}
	return true
}

// weedsOf returns the days after the last puddling or pass on which weeds have two to four leaves.
//
// Kept under water: 214.9 °C d above 0 °C to the first leaf, 98.3 a leaf (Iwasaki et al. 1978, Weed Research (Japan)
// 23(1):23-28, abstract). Only wet: half of the weeds are up after 93 °C d above 10.8 °C (hydrothermal time,
// Echinochloa crus-galli in maize, 2021; see the fact HalfEmergence), then the same leaves. A leaf takes 75 to 110 °C d
// (range of the published clocks around 98.3, judged). Water that comes and goes, or of which nothing is known, may be
// either.
func weedsOf(flood string, meanC float64) within {
	const first, leaf, quick, slow = 214.9, 98.3, 75.0, 110.0
	leaves := within{2 * quick / meanC, 4 * slow / meanC}
	kept := leaves.shift((first - leaf) / meanC)
	wet := leaves.shift(93 / (meanC - 10.8))
	switch flood {
	case "kept":
		return kept
	case "moist":
		return wet
	}
	return kept.and(wet)
}

// firstPass returns the published days of the first pass with the tool, in days after planting.
//
// Transplanted: weeds of two to four leaves (IRRI Rice Knowledge Bank, Mechanical weed control), not before 10 days
// after planting (TNRRI: 10-15 days). Sown in rows: 15 to 20 days after sowing (FAO-INADES 1977, Better Farming 20,
// sections 24-26), where it is cool when the rice has three leaves: at the earliest by 100 °C d above 0 °C to emergence
// and as many a leaf (Yoshida 1981, p. 21), at the latest by 100 °C d above 8 °C to emergence (WOFOST rice_eu) and 90
// above 9 °C a leaf (CERES-Rice), and as many days from then on.
func (c condition) firstPass() within {
	if c.method == "transplanted" {
		return weedsOf(c.flood, c.meanC).shift(-float64(c.puddled)).notBefore(10)
	}
	up := 100 / (c.meanC - 8)
	return within{max(15, 4*100/c.meanC), max(15, up+3*90/(c.meanC-9)) + 20 - 15}
}

// nextPass returns the published days of a pass after one that left few weeds, in days after that pass: the clock of
// the weeds starts again, or every 7 to 10 days (TNRRI) to 10 to 12 days (Association Tefy Saina, from memory).
func (c condition) nextPass() within { return weedsOf(c.flood, c.meanC).and(within{7, 12}) }

// panicles returns the published days of panicle initiation, in days after planting.
//
// Degree-days are those from 8 to 30 °C. Panicle initiation to ripeness takes 900 to 1,120 (ORYZA parameter files: 939
// standard, 1,007 IR72, 1,019 IR64, 1,118 Paw Swe); harvest is 7 days after ripeness (judged). Emergence to panicle
// initiation takes 847 (IR72) to 1,032 (IR64), emergence 100 (WOFOST rice_eu). Transplanting delays it by at most 0.4
// of the degree-days of the nursery (SHCKD of the same files). No variety forms panicles before 25 days after sowing
// (90 days less the 65 of IRRI, Growth stages of the rice plant).
//
// With 847 + 1,007 degree-days or more the told days are those of the place, and panicles are counted back from
// harvest. With fewer no variety of the files is ripe in the told days, so they were told for another place: then
// panicles may form as late as in IR64.
func (c condition) panicles() within {
	heat := min(c.meanC, 30) - 8
	shock := 0.4 * float64(c.age)
	if c.duration == 0 {
		return within{947 / heat, 1132/heat + shock}.shift(-float64(c.age))
	}
	ripe := float64(c.duration - 7)
	back := within{ripe - 1120/heat, ripe - 900/heat}
	if ripe*heat < 847+1007 {
		elsewhere := 1132/heat + shock
		back = back.and(within{back.to, elsewhere})
	}
	return back.notBefore(25).shift(-float64(c.age))
}

// Every day that the plan prints lies in the published range of its condition.
func TestPrintedDaysAreInPublishedRanges(t *testing.T) {
	wrong, n := 0, 0
	fail := func(c condition, format string, args ...any) {
		if wrong++; wrong <= 40 {
			t.Errorf("%s: "+format, append([]any{c}, args...)...)
		}
	}
	for c := range conditions {
		p := c.plan(t, 0, "", "")
		if len(p.windows) > 0 {
			n++
		}
		pass := 0
		for i, w := range p.windows {
			published := c.firstPass()
			if i > 0 {
				published = c.nextPass().shift(float64(pass))
				if c.method == "transplanted" {
					published = published.notBefore(10)
				}
			}
			if !published.holds(w[:]...) {
				fail(c, "window %d is %d, want within %.1f", i+1, w, published)
			}
			if w[2] > p.last {
				fail(c, "window %d is %d, after the last day of the tool, %d", i+1, w, p.last)
			}
			pass = w[1]
		}
		if end := min(p.rows, p.big, p.panicle); p.last >= end {
			fail(c, "the last day of the tool is %d; rows close %d, plants are big %d, panicles form %d", p.last,
				p.rows, p.big, p.panicle)
		}
		// Critical period: 11 to 57 days after transplanting (John, Ram & Pusparani 2024, Indian J. Weed Sci.
		// 56:95-97), 15 to 58 after sowing (Chauhan & Johnson 2011, Field Crops Res. 121:226-231).
		if most := map[string]int{"transplanted": 57, "row-sown": 58}[c.method]; p.pullUntil != absent &&
			(p.pullUntil <= p.last || p.pullUntil > most || p.pullUntil >= p.rows) {
			fail(c, "weeds are pulled until day %d, after the tool until %d", p.pullUntil, p.last)
		}
		if r := c.panicles(); !r.holds(p.panicle) {
			fail(c, "panicles form on day %d, want within %.1f", p.panicle, r)
		}
		c.checkWarm(p, fail)
		// Published days of hand-weeding sown rice (IRRI Rice Knowledge Bank, Manual weed control): within two weeks,
		// then 40-42 and 50-52 days after sowing.
		if c.method == "row-sown" && (!(within{0, 14}).holds(p.firstHand[:]...) ||
			p.secondHand != [2]int{40, 42} || p.thirdHand != [2]int{50, 52}) {
			fail(c, "hand weedings %d, %d, %d", p.firstHand, p.secondHand, p.thirdHand)
		}
	}
	if wrong > 0 || n < 5000 {
		t.Errorf("%d days of %d plans are outside the published ranges", wrong, n)
	}
}

// checkWarm holds what is known of warm lowlands, 27 to 28 °C, alone: the first window of a kept flood has a day of
// common practice, 14 to 21 days after planting, that of wet ground one of 10 to 15 days (TNRRI). Rows of 25 x 25 cm
// close 45 to 55 days after planting (from memory, of low confidence), and a tool of low clearance could not weed at 40
// days (Wan Ishak et al. 2015), so that plants are too big after that day at the soonest.
func (c condition) checkWarm(p printed, fail func(condition, string, ...any)) {
	if c.meanC < 27 || c.meanC > 28 || c.method != "transplanted" || c.puddled > 0 || len(p.windows) == 0 {
		return
	}
	first := within{float64(p.windows[0][0]), float64(p.windows[0][2])}
	if c.flood == "kept" && !first.overlaps(within{14, 21}) || c.flood == "moist" && !first.overlaps(within{10, 15}) {
		fail(c, "the first window is %v", p.windows[0])
	}
	if c.age == 18 && !(within{44, 56}).holds(p.rows) || p.big <= 40 {
		fail(c, "rows close on day %d, plants are too big on day %d", p.rows, p.big)
	}
}

// seen returns the published days of the window after a look on a day: the weeds of the answer need 75 to 110 °C d
// above 0 °C for each leaf from there to two and to four leaves (see weedsOf). An answer is half a leaf wide on either
// side.
func (c condition) seen(day int, leaves string) within {
	const quick, slow = 75.0, 110.0
	at := map[string]within{"none": {-math.Inf(1), 0.5}, "1": {0.5, 1.5}, "2-3": {1.5, 3.5}}[leaves]
	until := (4 - at.from) * slow / c.meanC
	if leaves == "none" { // they may not be up yet
		until = weedsOf(c.flood, c.meanC).to
	}
	return within{max(0, 2-at.to) * quick / c.meanC, until}.shift(float64(day))
}

// After a look on the day that the plan asks for, the window is where the weeds that were seen have two to four leaves.
func TestDaysAfterALookAreInPublishedRanges(t *testing.T) {
	n := 0
	for c := range conditions {
		if c.method != "transplanted" || c.duration != 120 || c.age != 18 {
			continue
		}
		first := c.plan(t, 0, "", "")
		for _, leaves := range []string{"none", "1", "2-3"} {
			p := c.plan(t, first.look, leaves, "")
			if n++; len(p.windows) == 0 {
				t.Errorf("%s: no window after the look", c)
				continue
			}
			if w, r := p.windows[0], c.seen(first.look, leaves).notBefore(10); !r.holds(w[:]...) {
				t.Errorf("%s, saw %s on day %d: the window is %d, want within %.1f", c, leaves, first.look, w, r)
			}
		}
	}
	if n < 400 {
		t.Errorf("only %d looks", n)
	}
}

// After a pass the next window is where the weeds that it left have two to four leaves: those that it left few start
// anew, those that it left some are up already and need 75 to 110 °C d above 0 °C a leaf (see weedsOf); where many were
// left the pass comes again after 7 to 10 days (TNRRI) to 12 (Association Tefy Saina, from memory).
func TestDaysAfterAPassAreInPublishedRanges(t *testing.T) {
	for c := range conditions {
		if c.method != "transplanted" || c.duration != 120 || c.age != 18 || c.puddled > 0 {
			continue
		}
		first := c.plan(t, 0, "", "").windows[0]
		pass := first[1]
		for left, r := range map[string]within{"few": c.nextPass(), "many": {7, 12},
			"some": within{2 * 75 / c.meanC, 4 * 110 / c.meanC}.and(within{7, 12})} {
			p := c.plan(t, pass, "", left)
			if len(p.windows) == 0 {
				t.Errorf("%s: no window after a pass on day %d that left %s", c, pass, left)
				continue
			}
			if w := p.windows[0]; !r.shift(float64(pass)).notBefore(10).holds(w[:]...) {
				t.Errorf("%s, a pass on day %d left %s: the window is %d, want within %.1f", c, pass, left, w,
					r.shift(float64(pass)))
			}
		}
	}
}

// Plots without rows for a tool have the published days of weeding by hand (IRRI Rice Knowledge Bank, Manual weed
// control): within two weeks, then 40-42 and 50-52 days after sowing. With a tool that is too wide for transplanted
// rows they are 30-32 and 40-42 days after transplanting. Where it is cool the first one waits for weeds with a leaf,
// which come up by one of the clocks of weedsOf.
func TestHandWeedingsAreOnPublishedDays(t *testing.T) {
	for _, c := range []struct {
		condition
		want [2][2]int
	}{{condition{method: "broadcast", meanC: 19}, [2][2]int{{40, 42}, {50, 52}}},
		{condition{method: "broadcast", meanC: 28}, [2][2]int{{40, 42}, {50, 52}}},
		{condition{method: "transplanted", meanC: 28, rowCM: 15, hillCM: 15}, [2][2]int{{30, 32}, {40, 42}}}} {
		w := c.plan(t, 0, "", "").windows
		oneLeaf := 93/(c.meanC-10.8) + 110/c.meanC
		if len(w) != 3 || w[0][0] < 10 || float64(w[0][0]) > max(10, oneLeaf) || w[0][2]-w[0][0] > 14-10 {
			t.Errorf("%s: %d", c.condition, w)
			continue
		}
		for i, want := range c.want {
			if w[i+1][0] != want[0] || w[i+1][2] != want[1] {
				t.Errorf("%s: weeding %d is %d, want %d", c.condition, i+2, w[i+1], want)
			}
		}
	}
}
