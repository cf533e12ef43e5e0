package desk

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // makes every run of the property tests draw the same random values
	"rowbell/store"
	"rowbell/store/weathercsv"
)

func (o *office) place(name string) (p store.Place) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) (err error) {
		p, _, err = tx.PlaceByName(name)
		return err
	})
	return p
}

func (o *office) weather(id int64) (days int) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) (err error) {
		_, _, days, err = tx.WeatherSpan(id)
		return err
	})
	return days
}

func TestPlaces(t *testing.T) {
	o := newOffice(t)
	o.settle("+447700900001", "north", 12)
	p := o.place("north")
	p.Learning, p.Soil = true, engine.SoilHeavy
	p.Prices = engine.Prices{Currency: "tal", Tool: 3000, InterestYear: 0.2}
	if err := p.Figures.Set("HandHoursPerHa", 260); err != nil {
		t.Fatal(err)
	}
	o.tx(func(tx *store.Tx) error { return second(tx.PutPlace(p)) })
	field := o.as("field")
	list := field.get("/desk/places")
	list.has(t, 200, "north", "1 grower", "1 open plot", "no day: the months are used",
		"nothing yet: as published")
	list.hasNot(t, "south")
	own := field.get(fmt.Sprint("/desk/place/", o.north))
	own.has(t, 200, "1 grower with 1 open plot", "Zone UTC, where it is 2 Jun 2026; texts go out from 7:00 on.",
		"Soil, where a grower has not told it: heavy.", "are set in rowbell.toml", "No day was measured",
		"January 20 °C lowest 30 °C highest 0 mm rain", "A new weeder 3,000 tal", "Interest a year 20 %",
		"HandHoursPerHa", "260 h/ha here", "nothing yet: as published")
	own.hasNot(t, "Check the file")
	if n := strings.Count(own.Body, "<svg"); n != 2 {
		t.Errorf("%d charts", n)
	}
	if len(own.Body) > 100_000 {
		t.Errorf("the page has %d octets", len(own.Body))
	}
	field.get(fmt.Sprint("/desk/place/", o.south)).has(t, 404)
	o.as("op").get(fmt.Sprint("/desk/place/", o.south)).has(t, 200, "Check the file")
	o.as("viewer").get(fmt.Sprint("/desk/place/", o.north)).has(t, 200, "1 grower")
}

const weatherFile = `date,min_c,max_c,rain_mm
2026-05-29,21,31,0
2026-05-31,20.5,30,12
2026-06-01,,,3
`

// A file is checked, then its days are taken once, and the same file changes nothing.
func TestWeatherIsTaken(t *testing.T) {
	o := newOffice(t)
	op, path := o.as("op"), fmt.Sprintf("/desk/place/%d/weather", o.north)
	take := func(p page) page {
		t.Helper()
		m := regexp.MustCompile(`name="sum" value="([^"]*)"`).FindStringSubmatch(p.Body)
		if m == nil {
			t.Fatalf("nothing can be taken: %s", p.text())
		}
		return op.post(path+"/take", "sum", m[1])
	}
	seen := op.upload(path, "may.csv", weatherFile)
	seen.has(t, 200, "Checked: may.csv", "3 days, 29 May 2026 to 1 Jun 2026. New: 3; replaced: 0; unchanged: 0.",
		"Nothing was taken yet.", "No temperature, so the months are used: 30 May 2026, 1 Jun 2026.",
		"No rain, so the months are used: 30 May 2026.")
	if n := o.weather(o.north); n != 0 {
		t.Errorf("%d days were taken by the check", n)
	}
	taken := take(seen)
	taken.has(t, 200, "3 days taken. new: 3, replaced: 0, unchanged: 0.",
		"3 measured days, 29 May 2026 to 1 Jun 2026.", "1 Jun 3 mm rain", "29 May 21 °C lowest 31 °C highest")
	if n := o.weather(o.north); n != 3 {
		t.Errorf("%d days were taken", n)
	}
	op.post(path+"/take", "sum", "x").has(t, 200, "Nothing was taken")
	again := op.upload(path, "may.csv", strings.Replace(weatherFile, "12", "13", 1))
	again.has(t, 200, "New: 0; replaced: 1; unchanged: 2.")
	stale := must(regexp.Compile(`name="sum" value="([^"]*)"`)).FindStringSubmatch(again.Body)[1]
	same := op.upload(path, "may.csv", weatherFile)
	same.has(t, 200, "New: 0; replaced: 0; unchanged: 3.")
	op.post(path+"/take", "sum", stale).has(t, 200, "Nothing was taken: another file was checked since.")
	take(same).has(t, 200, "unchanged: 3")
	op.get("/desk/trail").has(t, 200, "took daily weather: place north", "29 May 2026 to 1 Jun 2026 (4 days); new: 3")
	op.get("/desk/places").has(t, 200, "measured until 1 Jun 2026")
	for _, who := range []string{"field", "viewer"} {
		o.as(who).upload(path, "may.csv", weatherFile).has(t, 403)
		o.as(who).post(path+"/take", "sum", "x").has(t, 403)
	}
}

// A file with a mistake takes nothing, and each mistake is told by its line.
func TestWeatherThatCannotBeTaken(t *testing.T) {
	o := newOffice(t)
	op, path := o.as("op"), fmt.Sprintf("/desk/place/%d/weather", o.north)
	bad := op.upload(path, "may.csv", "date,min_c,max_c\n2026-05-29,31,21\n2026-06-09,20,30\n2026-05-30,20,30\n")
	bad.has(t, 422, "2 rows cannot be used, so nothing was taken.", "Rows that cannot be used", "line 2", "line 3",
		"One thing is not right below.")
	bad.hasNot(t, "Checked:")
	for content, words := range map[string]string{
		"":                        "The file cannot be used: the file is empty",
		"day,min\n":               "The file cannot be used: line 1:",
		"date,min_c,max_c\n":      "the file has no days",
		"\x00":                    "the file is not text",
		"\xff\xfed\x00a\x00t\x00": "UTF-16",
	} {
		op.upload(path, "x.csv", content).has(t, 422, words)
	}
	op.post(path, "file", "may.csv").has(t, 422, "Choose a file.")
	op.upload(path, "long.csv", strings.Repeat("# much\n", maxWeatherFile/7+20_000)).has(t, 413, "Too long")
	rows := "date,min_c,max_c\n"
	for i := range maxBadRows + 20 {
		rows += fmt.Sprintf("no day %d,1,2\n", i)
	}
	op.upload(path, "x.csv", rows).has(t, 422, "120 rows cannot be used", "and 20 more")
	if n := o.weather(o.north); n != 0 {
		t.Errorf("%d days were taken", n)
	}
}

// Checked days come out of the session as they went in, and what a page says will change is what changes.
func TestCheckedDays(t *testing.T) {
	o := newOffice(t)
	first := engine.DayOf(nine, zoneOf(store.Place{Zone: "UTC"})) - 40
	day := rapid.Custom(func(t *rapid.T) engine.Measured {
		m := engine.Unmeasured()
		if rapid.Bool().Draw(t, "warm") {
			m.MinC = rapid.Float64Range(10, 20).Draw(t, "min")
			m.MaxC = m.MinC + rapid.Float64Range(0, 15).Draw(t, "range")
		}
		if rapid.Bool().Draw(t, "wet") || !m.HasTemperature() {
			m.RainMM = float64(rapid.IntRange(0, 50).Draw(t, "rain"))
		}
		return m
	})
	rapid.Check(t, func(t *rapid.T) {
		c := checked{PlaceID: o.north, File: "x"}
		for on := range rapid.SliceOfNDistinct(rapid.IntRange(0, 30), 1, 12, rapid.ID[int]).Draw(t, "days") {
			c.Days = append(c.Days, weathercsv.Day{On: first + engine.Day(on), Measured: day.Draw(t, "day")})
		}
		got := must(unpack(must(c.pack())))
		if fmt.Sprint(got) != fmt.Sprint(c) {
			t.Fatalf("got %v, want %v", got, c)
		}
		read := func() (y engine.Daily) {
			o.tx(func(tx *store.Tx) (err error) {
				y, err = tx.WeatherSince(o.north, c.Days[0].On)
				return err
			})
			return y
		}
		before := read()
		var list []store.WeatherDay
		for _, d := range c.Days {
			list = append(list, store.WeatherDay(d))
		}
		o.tx(func(tx *store.Tx) error { return tx.PutWeather(o.north, list, nine.Unix()) })
		a1, b1, c1 := weathercsv.Changes(before, merged(before, c.Days), c.Days)
		a2, b2, c2 := weathercsv.Changes(before, read(), c.Days)
		if a1 != a2 || b1 != b2 || c1 != c2 {
			t.Fatalf("said %d %d %d, did %d %d %d", a1, b1, c1, a2, b2, c2)
		}
	})
}
