package meter

import (
	"context"
	"sync"
	"time"

	"rowbell/store"
)

const (
	// readEvery is the shortest time between two looks whether a count is due.
	readEvery   = 30 * time.Second
	readTimeout = 10 * time.Second // of one page
	// A count of many rows is repeated less often: so many rows are looked at for each second until the next count.
	// What waits is worth an alarm; how many growers and old texts there are changes slowly.
	waitsRowsASecond  = 20_000
	totalsRowsASecond = 3_000
	// Totals of more rows are stored, because a scrape after the start cannot count them again.
	keepRows = 4_000
	// A scrape counts only as many pages of about two thousand rows. Count does the other pages.
	scrapePages = 2
	countPages  = 5
)

// CountEvery is how often Count should be called. With countPages it makes 50,000 rows a second: a tenth of a core.
const CountEvery = 200 * time.Millisecond

// counts counts the records in pages, so that no scrape waits for a count of millions of rows. A count begins with a
// scrape, and goes on with each call of Count. Until it ends, the numbers of the last count are served, with the time
// at which that count began.
type counts struct {
	o Options

	mu        sync.Mutex
	asked     time.Time          // when it was last looked whether a count is due
	waits     *store.WaitsCount  // in progress; nil = none
	late      time.Duration      // found when that count began, see counted
	totals    *store.TotalsCount // in progress; nil = none
	keep      *store.Totals      // to be stored; nil = nothing
	waitsRows int64              // rows that the last count of what waits looked at
	seen      counted
}

// counted are the last numbers.
type counted struct {
	waits  *store.Waits  // nil = not counted yet
	totals *store.Totals // nil = not counted yet
	late   time.Duration // how long ago the plot that waits longest for the bell (the reminder loop) was due
	failed int           // how often the records could not be read
}

// scrape begins the counts that are due, does their first pages, and returns the last numbers.
func (c *counts) scrape() counted {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := c.o.Clock.Now()
	if since := now.Sub(c.asked); c.asked.IsZero() || since >= readEvery || since < 0 {
		c.asked = now
		c.note(c.begin(now))
	}
	for range scrapePages {
		c.note(c.page())
	}
	return c.seen
}

// Count does some pages of the counts in progress. The service calls it every CountEvery. It does not end with the
// context, because a page takes milliseconds and one that is broken off would count as a failure.
func (m *Meter) Count(context.Context) {
	if m == nil || m.records == nil {
		return
	}
	c := &m.records.counts
	for range countPages {
		if !c.next() {
			break
		}
	}
	c.store()
}

// next does one page. It reports whether there is another one.
func (c *counts) next() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.note(c.page())
	return c.waits != nil || c.totals != nil
}

// page does the next page of the counts in progress, if there is one.
func (c *counts) page() error {
	switch {
	case c.waits != nil:
		done, err := c.pageOf(c.waits.Page)
		if done {
			c.seen.waits, c.seen.late, c.waitsRows = &c.waits.Waits, c.late, c.waits.Looked
			c.waits = nil
		}
		return err
	case c.totals != nil:
		done, err := c.pageOf(c.totals.Page)
		if done {
			c.seen.totals = &c.totals.Totals
			if c.totals.Rows > keepRows {
				c.keep = c.seen.totals
			}
			c.totals = nil
		}
		return err
	}
	return nil
}

func (c *counts) pageOf(page func(*store.Tx) (bool, error)) (done bool, err error) {
	err = c.view(func(tx *store.Tx) (err error) {
		done, err = page(tx)
		return err
	})
	return done && err == nil, err
}

func (c *counts) view(fn func(*store.Tx) error) error {
	ctx, cancel := context.WithTimeout(context.Background(), readTimeout)
	defer cancel()
	return c.o.Store.View(ctx, fn)
}

// store stores new totals, so that they are known at once when the program starts again.
func (c *counts) store() {
	c.mu.Lock()
	keep := c.keep
	c.keep = nil
	c.mu.Unlock()
	if keep == nil {
		return
	}
	err := c.o.Store.InTx(context.Background(), func(tx *store.Tx) error { return tx.KeepTotals(*keep) })
	if err != nil {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.seen.failed++
	}
}

// note counts a failure. The counts in progress are given up.
func (c *counts) note(err error) {
	if err != nil {
		c.seen.failed++
		c.waits, c.totals = nil, nil
	}
}

// due reports whether a count is due again. The last one began at the instant at and looked at so many rows.
func due(now time.Time, at, rows, rowsASecond int64) bool {
	since := now.Sub(time.Unix(at, 0))
	return since < 0 || since >= time.Duration(rows/rowsASecond)*time.Second
}

// begin begins the counts that are due.
func (c *counts) begin(now time.Time) error {
	waitsDue := c.waits == nil && (c.seen.waits == nil || due(now, c.seen.waits.At, c.waitsRows, waitsRowsASecond))
	totalsDue := func() bool {
		t := c.seen.totals
		return c.totals == nil && (t == nil || due(now, t.At, t.Rows, totalsRowsASecond))
	}
	return c.view(func(tx *store.Tx) error {
		if waitsDue {
			behind, err := tx.OverduePlaces(now.Unix())
			if err != nil {
				return err
			}
			c.waits, c.late = store.NewWaitsCount(now.Unix()), 0
			for _, b := range behind {
				c.late = max(c.late, time.Duration(now.Unix()-b.Oldest)*time.Second)
			}
		}
		if !totalsDue() {
			return nil
		}
		// Totals are kept from before the start, or by another process.
		kept, known, err := tx.KeptTotals()
		if known && kept.At <= now.Unix() && (c.seen.totals == nil || kept.At > c.seen.totals.At) {
			c.seen.totals = &kept
		}
		if err == nil && totalsDue() {
			c.totals = store.NewTotalsCount(now.Unix())
		}
		return err
	})
}

// Waits returns the last count of what waits; false if it was not counted yet. Like a scrape it begins a count that is
// due.
func (m *Meter) Waits() (w store.Waits, counted bool) {
	if m == nil || m.records == nil {
		return w, false
	}
	if seen := m.records.counts.scrape(); seen.waits != nil {
		return *seen.waits, true
	}
	return w, false
}
