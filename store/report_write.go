package store

import (
	"cmp"
	"encoding/json"
	"maps"
	"slices"

	"rowbell/engine/report"
)

// Only the sums that differ from those of the last count are written, a few at a time, so that no grower waits. A page
// that is read meanwhile may have sums of both counts.

const (
	sqlFieldStored = `SELECT place_id, month, week, what, n, bins FROM report_field
	WHERE place_id = ` + asID + ` AND month >= $2`
	sqlPutField = `INSERT INTO report_field (place_id, month, week, what, n, bins)
	SELECT CAST(value->>0 AS BIGINT), CAST(value->>1 AS BIGINT), CAST(value->>2 AS BIGINT),
		CAST(value->>3 AS BIGINT), CAST(value->>4 AS BIGINT), value->>5
	FROM jsonb_each($1) WHERE true
	ON CONFLICT (place_id, what, month, week) DO UPDATE SET n = excluded.n, bins = excluded.bins`
	sqlDropField = `DELETE FROM report_field WHERE place_id = $1 AND month = $2 AND week = $3 AND what = $4`

	textColumns = `place_id, week, kind, queued, claimed, accepted, delivered, refused, expired, withdrawn, unknown,
		segments, micros`
	sqlTextsStored = `SELECT ` + textColumns + ` FROM report_text WHERE place_id = ` + asID + ` AND week >= $2`
	sqlPutTexts    = `INSERT INTO report_text (` + textColumns + `)
	SELECT CAST(value->>0 AS BIGINT), CAST(value->>1 AS BIGINT), value->>2,
		CAST(value->>3 AS BIGINT), CAST(value->>4 AS BIGINT), CAST(value->>5 AS BIGINT),
		CAST(value->>6 AS BIGINT), CAST(value->>7 AS BIGINT), CAST(value->>8 AS BIGINT),
		CAST(value->>9 AS BIGINT), CAST(value->>10 AS BIGINT), CAST(value->>11 AS BIGINT),
		CAST(value->>12 AS BIGINT)
	FROM jsonb_each($1) WHERE true
	ON CONFLICT (place_id, week, kind) DO UPDATE SET queued = excluded.queued, claimed = excluded.claimed,
		accepted = excluded.accepted, delivered = excluded.delivered, refused = excluded.refused,
		expired = excluded.expired, withdrawn = excluded.withdrawn, unknown = excluded.unknown,
		segments = excluded.segments, micros = excluded.micros`
	sqlDropTexts = `DELETE FROM report_text WHERE place_id = $1 AND week = $2 AND kind = $3`
)

// reportStep is how many sums a step of background work writes.
const reportStep = 50

// write stores what has changed, and then that it was counted.
func (c *reportCount) write() error {
	fields, err := c.changedFields()
	if err == nil {
		err = writeChanges(c, fields, sqlPutField, (*fieldSum).put, (*fieldSum).drop)
	}
	var texts []textSum
	if err == nil {
		texts, err = c.changedTexts()
	}
	if err == nil {
		err = writeChanges(c, texts, sqlPutTexts, (*textSum).put, (*textSum).drop)
	}
	if err == nil {
		err = c.s.InTx(c.ctx, func(tx *Tx) error { return tx.KeepReportCounted(c.done) })
	}
	return err
}

// fieldKey is the key of a row of report_field.
type fieldKey struct {
	place int64
	month report.Month
	week  report.Week
	what  report.What
}

// fieldSum is a row of report_field. If n is 0, there is none.
type fieldSum struct {
	fieldKey
	fieldBins
}

// fieldBins is how many there are in all bins, and the bins with how many are in each, in turn, as JSON.
type fieldBins struct {
	n    int64
	bins string
}

func (f *fieldSum) put(p *packed) bool {
	if f.n > 0 {
		p.add(f.place, int64(f.month), int64(f.week), int64(f.what), f.n, f.bins)
	}
	return f.n > 0
}

func (f *fieldSum) drop(tx *Tx) error { return tx.do(sqlDropField, f.place, f.month, f.week, f.what) }

// packBins packs the bins of each row.
func packBins(sums report.Field) (map[fieldKey]fieldBins, error) {
	bins := map[fieldKey][][2]int64{}
	for k, n := range sums {
		key := fieldKey{k.Place, k.Month, k.Week, k.What}
		bins[key] = append(bins[key], [2]int64{int64(k.Bin), n})
	}
	rows := map[fieldKey]fieldBins{}
	for key, list := range bins {
		slices.SortFunc(list, func(a, b [2]int64) int { return cmp.Compare(a[0], b[0]) })
		var row fieldBins
		var flat []int64
		for _, b := range list {
			row.n, flat = row.n+b[1], append(flat, b[:]...)
		}
		text, err := json.Marshal(flat)
		if err != nil {
			return nil, err
		}
		row.bins = string(text)
		rows[key] = row
	}
	return rows, nil
}

// textKey is the key of a row of report_text.
type textKey struct {
	place int64
	week  report.Week
	kind  string
}

// textSum is a row of report_text. If it has no texts, there is none.
type textSum struct {
	textKey
	TextSum
}

func (t *textSum) put(p *packed) bool {
	if t.Texts() == 0 {
		return false
	}
	values := args(t.place, int64(t.week), t.kind)
	for _, n := range t.ByState {
		values = append(values, n)
	}
	p.add(append(values, t.Segments, t.Micros)...)
	return true
}

func (t *textSum) drop(tx *Tx) error { return tx.do(sqlDropTexts, t.place, t.week, t.kind) }

// changedFields compares the sums with the stored ones, place by place.
func (c *reportCount) changedFields() (changed []fieldSum, err error) {
	now, err := packBins(c.field)
	for place := range c.places {
		if err != nil {
			return nil, err
		}
		var stored []fieldSum
		err = c.s.View(c.ctx, func(tx *Tx) (err error) {
			stored, err = rows(tx, sqlFieldStored, args(place, c.month), func(f *fieldSum) []any {
				return args(&f.place, &f.month, &f.week, &f.what, &f.n, &f.bins)
			})
			return err
		})
		for _, was := range stored {
			if now[was.fieldKey] != was.fieldBins {
				changed = append(changed, fieldSum{was.fieldKey, now[was.fieldKey]})
			}
			delete(now, was.fieldKey)
		}
	}
	for k, bins := range now {
		changed = append(changed, fieldSum{k, bins})
	}
	return changed, err
}

// mayBePruned reports whether texts of a sum may be past their retention. Then a smaller sum than the stored one does
// not replace it: texts that were counted before are gone.
func (c *reportCount) mayBePruned(k textKey) bool {
	retention := c.s.keep.Texts
	if k.place == 0 {
		retention = c.s.keep.LooseTexts
	}
	return int64(k.week.Monday())*secondsADay < c.done.At-days(retention)
}

// changedTexts compares the sums with the stored ones, place by place; 0 are the phones without records.
func (c *reportCount) changedTexts() (changed []textSum, err error) {
	now := maps.Clone(c.texts)
	for _, place := range append(slices.Collect(maps.Keys(c.places)), 0) {
		var stored []textSum
		err := c.s.View(c.ctx, func(tx *Tx) (err error) {
			stored, err = rows(tx, sqlTextsStored, args(place, c.week), func(t *textSum) []any {
				return append(args(&t.place, &t.week, &t.kind), t.into()...)
			})
			return err
		})
		if err != nil {
			return nil, err
		}
		for _, was := range stored {
			sum := now[was.textKey]
			pruned := c.mayBePruned(was.textKey) && sum.Texts() < was.Texts()
			if sum != was.TextSum && !pruned {
				changed = append(changed, textSum{was.textKey, sum})
			}
			delete(now, was.textKey)
		}
	}
	for k, sum := range now {
		changed = append(changed, textSum{k, sum})
	}
	return changed, nil
}

// writeChanges writes rows in steps of background work. The function put adds a row to the packed ones and reports
// whether it did; what it does not add is dropped.
func writeChanges[T any](c *reportCount, list []T, query string, put func(*T, *packed) bool,
	drop func(*T, *Tx) error) error {
	if len(list) == 0 {
		return nil
	}
	return c.s.Background(c.ctx, func(tx *Tx) (bool, error) {
		part := list[:min(reportStep, len(list))]
		var p packed
		for i := range part {
			if !put(&part[i], &p) {
				if err := drop(&part[i], tx); err != nil {
					return false, err
				}
			}
		}
		all := len(part) == len(list)
		tx.Kept(func() { list = list[len(part):] })
		return all, p.write(tx, query)
	})
}
