package season

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"
	"sync/atomic"
	"time"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// told counts what was told again.
type told struct {
	plots, reminders, passes, sightings atomic.Int64
}

// verify tells the season of each plot again from its records, and compares it with what is recorded as told, with the
// texts that came, and with what was acknowledged. The process must have ended.
func (w *world) verify(ctx context.Context, path string) (_ *told, err error) {
	cat, err := text.Default()
	if err != nil {
		return nil, err
	}
	if cat, err = cat.Only("en"); err != nil {
		return nil, err
	}
	m, err := menu.New(cat, menu.Options{DialCode: "*123#"})
	if err != nil {
		return nil, err
	}
	s, err := store.Open(ctx, path, store.Options{Existing: true})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	all := new(told)
	var done atomic.Int64
	return all, w.each(func(g *grower) error {
		if w.o.Step != nil {
			w.o.Step("growers told again", int(done.Add(1)), len(w.growers))
		}
		if err := ctx.Err(); err != nil || g.registered == 0 {
			return err
		}
		r, err := readRecords(ctx, s, g, w.now.Load())
		if err != nil {
			return err
		}
		return w.tellAgain(m, g, &r, all)
	})
}

// tellAgain compares the records of one grower.
func (w *world) tellAgain(m *menu.Menu, g *grower, r *records, all *told) error {
	if len(r.plots) != len(g.plots) {
		w.found.add("%s: %d plots are recorded, %d were saved", g, len(r.plots), len(g.plots))
		return nil
	}
	var tellers []*teller
	for i := range r.plots {
		tellers = append(tellers, &teller{sheet: &r.plots[i], plot: g.plotNo(r.plots[i].No)})
		w.compareAcknowledged(g, &r.plots[i], all)
	}
	for i := range w.o.Days {
		d := w.first + engine.Day(i)
		at := d.At(morningHour, w.zone).Unix()
		texts, err := morning(m, r, tellers, d, at)
		if err != nil {
			return err
		}
		all.reminders.Add(int64(len(texts)))
		w.compareTexts(g, d, at, texts)
	}
	for _, t := range tellers {
		all.plots.Add(1)
		w.compareTold(g, t)
	}
	w.compareHours(g)
	return nil
}

// compareTexts compares what must have come on a morning with what came to the phone.
func (w *world) compareTexts(g *grower, d engine.Day, at int64, want []string) {
	var got []string
	for _, a := range g.got {
		if a.at == at {
			got = append(got, a.text)
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		w.found.add("%s on %s: the texts %q came, and by the records it must be %q", g, d, got, want)
	}
}

// compareHours looks for texts at hours at which nothing may come: in the night.
func (w *world) compareHours(g *grower) {
	for _, a := range g.got {
		if d := engine.DayOf(time.Unix(a.at, 0), w.zone); a.at < d.At(morningHour, w.zone).Unix() {
			w.found.add("%s on %s: %q came in the night", g, d, a.text)
		}
	}
}

// compareTold compares the reminders that are recorded with those of the season told again.
func (w *world) compareTold(g *grower, t *teller) {
	order := func(a, b engine.Told) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Window, b.Window),
			cmp.Compare(a.Edition, b.Edition))
	}
	got, want := slices.SortedFunc(slices.Values(t.sheet.Told), order), slices.SortedFunc(slices.Values(t.told), order)
	if !slices.Equal(got, want) {
		w.found.add("%s, plot %d: recorded as told is %v, and by the other records it must be %v", g, t.sheet.No, got,
			want)
	}
}

// compareAcknowledged compares the recorded passes and sightings with those that were acknowledged.
func (w *world) compareAcknowledged(g *grower, sheet *store.PlotSheet, all *told) {
	p := g.plotNo(sheet.No)
	if p == nil {
		w.found.add("%s: plot %d is recorded and was never saved", g, sheet.No)
		return
	}
	all.passes.Add(int64(len(sheet.Season.Passes)))
	all.sightings.Add(int64(len(sheet.Season.Sightings)))
	if sheet.Season.Plot.Planted != p.planted || sheet.Season.Plot.AreaM2 != float64(p.area) {
		w.found.add("%s, plot %d: planted %s, %g m2 is recorded, and %s, %d m2 was told", g, sheet.No,
			sheet.Season.Plot.Planted, sheet.Season.Plot.AreaM2, p.planted, p.area)
	}
	same := func(a engine.Pass, b logged) bool {
		return a.On == b.On && a.With == b.With && a.Left == b.Left && a.People == b.People &&
			math.Abs(a.Hours-b.Hours) < 1e-6
	}
	if !slices.EqualFunc(sheet.Season.Passes, p.passes, same) {
		w.found.add("%s, plot %d: the passes %+v are recorded, and %+v were acknowledged", g, sheet.No,
			sheet.Season.Passes, p.passes)
	}
	if !slices.Equal(sheet.Season.Sightings, p.looks) {
		w.found.add("%s, plot %d: the sightings %+v are recorded, and %+v were acknowledged", g, sheet.No,
			sheet.Season.Sightings, p.looks)
	}
}
