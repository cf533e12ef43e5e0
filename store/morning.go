package store

import (
	"cmp"
	"math"
	"slices"

	"rowbell/engine"
)

// The table attention has the plots that need somebody, so that the list of the morning is read without planning every
// plot. KeepAttention fills it once a day and after changes; what it says of a plot may be some minutes old. A page
// plans the plots that it shows again.

// MorningKey is the place of a plot in the list of the morning.
type MorningKey struct {
	Later  bool  // staff could not reach the grower today: after all others
	Rank   int64 // the smallest is first
	PlotID int64
}

// MorningRow is a plot that needs somebody.
type MorningRow struct {
	MorningKey
	GrowerID int64
	Reasons  engine.Reasons
}

// compareMorning orders the list of the morning.
func compareMorning(a, b MorningKey) int {
	return cmp.Or(cmp.Compare(asBit(a.Later), asBit(b.Later)), cmp.Compare(a.Rank, b.Rank),
		cmp.Compare(a.PlotID, b.PlotID))
}

// Compare orders the list of the morning: it is negative if k is before other.
func (k MorningKey) Compare(other MorningKey) int { return compareMorning(k, other) }

func asBit(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// rankUnits is how many units of MorningKey.Rank a per cent of the harvest has.
const rankUnits = 1e6

// MorningKeyOf returns the place in the list of a plot.
func MorningKeyOf(plotID int64, a engine.Attention) MorningKey {
	return MorningKey{a.Later, -int64(math.Round(a.Score * rankUnits)), plotID}
}

const (
	morningColumns = `a.plot_id, a.grower_id, a.later, a.rank, a.reasons`
	sqlMorning     = `SELECT ` + morningColumns + ` FROM attention a
	WHERE a.place_id = ` + asID + ` AND (a.later, a.rank, a.plot_id) > ($2, $3, $4)
	ORDER BY a.later, a.rank, a.plot_id LIMIT CAST($5 AS BIGINT)`
	sqlMorningOf = `SELECT ` + morningColumns + ` FROM attention a
	WHERE a.place_id = ` + asID + ` AND a.reasons = CAST($2 AS BIGINT) AND (a.later, a.rank, a.plot_id) > ($3, $4, $5)
	ORDER BY a.later, a.rank, a.plot_id LIMIT CAST($6 AS BIGINT)`
	// The sets of reasons that plots of a place have. Each is found by one step into the index, however many plots have
	// the one before.
	sqlMorningSets = `WITH RECURSIVE x(r) AS (
		SELECT min(a.reasons) FROM attention a WHERE a.place_id = ` + asID + `
		UNION ALL SELECT (SELECT min(b.reasons) FROM attention b WHERE b.place_id = ` + asID + ` AND b.reasons > x.r)
		FROM x WHERE x.r IS NOT NULL)
	SELECT x.r FROM x WHERE x.r IS NOT NULL`
	sqlMorningCounts = `SELECT a.reasons, count(*) FROM attention a WHERE a.place_id = ` + asID + ` GROUP BY a.reasons`
)

// Morning returns at most limit plots of the places of the scope that need somebody for one of the reasons, in the
// order of the list, after a key; nil is the beginning. Every place is read by its own index, and so is every set of
// reasons if not all reasons are asked for: the time depends on how many places and sets there are, not on the plots.
func (tx *Tx) Morning(scope Scope, reasons engine.Reasons, after *MorningKey, limit int,
) (list []MorningRow, err error) {
	from := MorningKey{Rank: math.MinInt64}
	if after != nil {
		from = *after
	}
	read := func(query string, a ...any) error {
		part, err := rows(tx, query, append(a, asBit(from.Later), from.Rank, from.PlotID, limit),
			func(r *MorningRow) []any { return args(&r.PlotID, &r.GrowerID, &r.Later, &r.Rank, &r.Reasons) })
		list = append(list, part...)
		return err
	}
	for _, place := range scope {
		if reasons == engine.AllReasons {
			err = read(sqlMorning, place)
		} else {
			err = tx.eachMorningSet(place, reasons, func(set int64) error { return read(sqlMorningOf, place, set) })
		}
		if err != nil {
			return nil, fail("morning", err)
		}
	}
	slices.SortFunc(list, func(a, b MorningRow) int { return compareMorning(a.MorningKey, b.MorningKey) })
	return list[:min(len(list), limit)], nil
}

// eachMorningSet calls visit for each set of reasons at a place that has one of the reasons.
func (tx *Tx) eachMorningSet(place int64, reasons engine.Reasons, visit func(set int64) error) error {
	sets, err := column[int64](tx, sqlMorningSets, args(place))
	for _, set := range sets {
		if err == nil && engine.Reasons(set)&reasons != 0 {
			err = visit(set)
		}
	}
	return err
}

const sqlNamesOfGrowers = `SELECT g.id, g.name FROM grower g WHERE g.id IN ` + idList

// GrowerNames returns what staff call growers. A grower without a name is left out.
func (tx *Tx) GrowerNames(growerIDs []int64) (map[int64]string, error) {
	all := map[int64]string{}
	err := tx.each(sqlNamesOfGrowers, args(ids(growerIDs)), func(scan func(...any) error) error {
		var id int64
		var name string
		err := scan(&id, &name)
		if name != "" {
			all[id] = name
		}
		return err
	})
	return all, fail("grower names", err)
}

// MorningCounts is how many plots need somebody.
type MorningCounts struct {
	All int
	Of  map[engine.Reason]int // by reason; a plot with several reasons counts for each
}

// MorningCounts counts the plots of the places of the scope that need somebody.
func (tx *Tx) MorningCounts(scope Scope) (c MorningCounts, err error) {
	c.Of = map[engine.Reason]int{}
	for _, place := range scope {
		err := tx.each(sqlMorningCounts, args(place), func(scan func(...any) error) error {
			var reasons engine.Reasons
			var n int
			err := scan(&reasons, &n)
			c.All += n
			for _, r := range reasons.List() {
				c.Of[r] += n
			}
			return err
		})
		if err != nil {
			return c, fail("morning counts", err)
		}
	}
	return c, nil
}
