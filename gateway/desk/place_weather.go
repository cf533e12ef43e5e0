package desk

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"io"

	"rowbell/engine"
	"rowbell/store"
	"rowbell/store/weathercsv"
)

// A file of daily weather is read in two steps. The first shows its mistakes, or what it would change, and keeps its
// days in the session, so that any process of the service can take them. The second takes these days.

// keyWeather is the key of the checked days in a session.
const keyWeather = "weather"

const (
	maxWeatherFile = 2 << 20   // octets of a file: more than 70 years of days
	maxKept        = 256 << 10 // octets of the packed days of a file
	maxBadRows     = 100       // rows with mistakes that a page lists
)

// checked is a file whose days can be taken.
type checked struct {
	PlaceID int64
	File    string
	Days    []weathercsv.Day
}

// checkedView is what a checked file would change.
type checkedView struct {
	File, Sum             string
	Days                  int
	From, To              engine.Day
	Added, Replaced, Same int
	Gaps                  []gapLine
}

// checkWeather reads a file and shows its mistakes, or what taking it would change.
func (d *Desk) checkWeather(r *request) error {
	v, err := r.placeData()
	if err != nil {
		return err
	}
	name, text, err := r.file("file")
	if err != nil {
		r.form.wrong("file", "Choose a file.")
		return r.again("place", r.place.Name, v)
	}
	days, err := weathercsv.Parse(bytes.NewReader(text), v.Today)
	var bad weathercsv.BadRows
	switch {
	case errors.As(err, &bad):
		r.form.wrong("file", fmt.Sprintf("%s cannot be used, so nothing was taken. They are listed below.",
			plural(rowsOf(bad), "row", "rows")))
		v.BadRows = bad[:min(len(bad), maxBadRows)]
		v.BadMore = len(bad) - len(v.BadRows)
	case err != nil:
		r.form.wrong("file", "The file cannot be used: "+err.Error()+".")
	}
	if !r.form.ok() {
		return r.again("place", r.place.Name, v)
	}
	c := checked{r.place.ID, name, days}
	packed, err := c.pack()
	if err != nil {
		return err
	}
	if len(packed) > maxKept {
		r.form.wrong("file", "The file has too many days for this page. On the server, use rowbell import weather.")
		return r.again("place", r.place.Name, v)
	}
	before, err := r.weatherFrom(days[0].On)
	if err != nil {
		return err
	}
	after := merged(before, days)
	seen := &checkedView{File: name, Sum: sumOf(packed), Days: len(days), From: days[0].On, To: days[len(days)-1].On,
		Gaps: gapLines(after, days[0].On, days[len(days)-1].On)}
	seen.Added, seen.Replaced, seen.Same = weathercsv.Changes(before, after, days)
	d.sessions.Put(r.Context(), keyWeather, packed)
	v.Checked = seen
	return r.page("place", r.place.Name, v)
}

// rowsOf counts the rows that have mistakes.
func rowsOf(bad weathercsv.BadRows) int {
	lines := map[int]bool{}
	for _, b := range bad {
		lines[b.Line] = true
	}
	return len(lines)
}

func (r *request) weatherFrom(day engine.Day) (y engine.Daily, err error) {
	err = r.view(func(tx *store.Tx) (err error) {
		y, err = tx.WeatherSince(r.place.ID, day)
		return err
	})
	return y, err
}

// merged returns the weather as it is after days were taken: what a day leaves out stays.
func merged(before engine.Daily, days []weathercsv.Day) engine.Daily {
	from, to := days[0].On, days[len(days)-1].On
	if n := len(before.Days); n > 0 {
		from, to = min(from, before.From), max(to, before.From+engine.Day(n)-1)
	}
	after := engine.Daily{From: from, Days: make([]engine.Measured, to-from+1)}
	for i := range after.Days {
		after.Days[i] = engine.Unmeasured()
		if m, ok := before.On(from + engine.Day(i)); ok {
			after.Days[i] = m
		}
	}
	for _, d := range days {
		m := &after.Days[d.On-from]
		if d.HasTemperature() {
			m.MinC, m.MaxC = d.MinC, d.MaxC
		}
		if d.HasRain() {
			m.RainMM = d.RainMM
		}
	}
	return after
}

// pack returns the days in a form that a session can hold.
func (c checked) pack() ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	err := errors.Join(gob.NewEncoder(z).Encode(c), z.Close())
	return b.Bytes(), err
}

func unpack(packed []byte) (c checked, err error) {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err == nil {
		err = gob.NewDecoder(io.LimitReader(z, 16*maxWeatherFile)).Decode(&c)
	}
	return c, err
}

func sumOf(packed []byte) string {
	sum := sha256.Sum256(packed)
	return hex.EncodeToString(sum[:12])
}

// weatherPart is the number of days in one transaction, which takes a few milliseconds.
const weatherPart = 500

// takeWeather takes the days of the file that was checked last, in background work as rowbell import does.
func (d *Desk) takeWeather(r *request) error {
	path := fmt.Sprint("/desk/place/", r.place.ID)
	packed := d.sessions.GetBytes(r.Context(), keyWeather)
	if len(packed) == 0 || sumOf(packed) != r.form.Get("sum") {
		return r.to(path, "Nothing was taken: another file was checked since. Check the file again.")
	}
	c, err := unpack(packed)
	if err != nil {
		return err
	}
	if c.PlaceID != r.place.ID || len(c.Days) == 0 {
		return errNotFound
	}
	before, err := r.weatherFrom(c.Days[0].On)
	if err != nil {
		return err
	}
	added, replaced, same := weathercsv.Changes(before, merged(before, c.Days), c.Days)
	changes := fmt.Sprintf("new: %d, replaced: %d, unchanged: %d", added, replaced, same)
	if err := r.putWeather(c, changes); err != nil {
		return err
	}
	d.sessions.Remove(r.Context(), keyWeather)
	d.Changed()
	return r.to(path, fmt.Sprintf("%s taken. %s. Windows that move are told to their growers by text.",
		plural(len(c.Days), "day", "days"), changes))
}

// putWeather stores the days in parts, so that no grower waits for all of them, and the entry of the trail with the
// last part. If it is broken off, the same file can be taken again.
func (r *request) putWeather(c checked, changes string) error {
	left := c.Days
	return r.d.o.Store.Background(context.WithoutCancel(r.Context()), func(tx *store.Tx) (bool, error) {
		part := make([]store.WeatherDay, min(weatherPart, len(left)))
		for i := range part {
			part[i] = store.WeatherDay(left[i])
		}
		if err := tx.PutWeather(c.PlaceID, part, r.now.Unix()); err != nil {
			return false, err
		}
		last := len(part) == len(left)
		if last {
			e := r.entry("took daily weather", "place "+r.place.Name, "",
				longSpan(c.Days[0].On, c.Days[len(c.Days)-1].On)+"; "+changes)
			e.PlaceID = c.PlaceID
			if err := tx.Trail(e); err != nil {
				return false, err
			}
		}
		tx.Kept(func() { left = left[len(part):] })
		return last, nil
	})
}
