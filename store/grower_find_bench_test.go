package store

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"
)

// manyFound are growers at 32 places, half of them at the first, each with a plot. Two of three have a name. None has a
// state by which the list can be cut, but a hundredth wants no texts: to find nobody is the most work.
const manyFound = `INSERT INTO grower (id, phone, language, place_id, consent_at, consent_text, consent_channel,
	created_at, seen_at, stopped_at, name, name_key)
WITH RECURSIVE g(i) AS (SELECT CAST($1 AS BIGINT) UNION ALL SELECT i + 1 FROM g WHERE i + 1 < CAST($2 AS BIGINT))
SELECT i + 1, CAST($3 AS TEXT) || (1000000 + i), 'en', CASE i % 2 WHEN 0 THEN 1 ELSE 2 + (i / 2) % 31 END,
	CAST($4 AS BIGINT), 'v', 'ussd', CAST($4 AS BIGINT), CAST($4 AS BIGINT),
	CASE i % 100 WHEN 7 THEN CAST($4 AS BIGINT) END,
	CASE i % 3 WHEN 0 THEN '' ELSE 'Grower ' || (i * 7919 % 999983) END,
	CASE i % 3 WHEN 0 THEN '' ELSE 'grower ' || (i * 7919 % 999983) END
FROM g`

const manyFoundPlots = `INSERT INTO plot (grower_id, no, label, method, planted, puddled, seedling_age_days,
	seedlings_per_hill, row_spacing_cm, hill_spacing_cm, area_m2, flood, duration_days, tool_width_cm,
	tool_max_width_cm, since_day)
SELECT g.id, 1, '', 1, CAST($1 AS BIGINT) - 5 - g.id % 60, 0, 0, 0, 25, 25, 900, 0, 0, 15, 0, CAST($1 AS BIGINT)
FROM grower g WHERE g.id > CAST($2 AS BIGINT) AND g.id <= CAST($3 AS BIGINT) ORDER BY g.id`

// BenchmarkFindGrowers measures the 95th percentile of a page of the list, for filters that find somebody and for those
// that find nobody. ROWBELL_TEST_SIZES is the number of growers.
//
//	ROWBELL_TEST_SIZES=1000000 go test ./store -run xxx -bench FindGrowers -benchtime 40x
//	ROWBELL_TEST_SIZES=1000000 .ci/postgres go test ./store -run xxx -bench FindGrowers -benchtime 40x
func BenchmarkFindGrowers(b *testing.B) {
	growers, err := strconv.Atoi(os.Getenv("ROWBELL_TEST_SIZES"))
	if err != nil {
		growers = 10_000
	}
	s := openNew(b, Options{})
	scope := Scope{1}
	for i := range 31 {
		p := defaultPlace()
		p.Name = fmt.Sprint("place ", i)
		scope = append(scope, putPlace(b, s, p))
	}
	for from := 0; from < growers; from += 50_000 { // a transaction on a server must end within a minute
		execSQL(b, s, manyFound, from, min(growers, from+50_000), fmt.Sprintf("+44%d", 7700900), noon)
	}
	for from := 0; from < growers; from += 50_000 {
		execSQL(b, s, manyFoundPlots, int64(day0), from, from+50_000)
	}
	if s.server != nil {
		_, err := s.server.db.ExecContext(ctx, "VACUUM (ANALYZE) grower, plot")
		ok(b, err)
	}
	for name, f := range map[string]GrowerFilter{
		"all": {}, "later": {After: int64(growers/2 + 1)}, "name": {Text: "grower 77"}, "number": {Text: "900 1000 1"},
		"nobody": {Text: "nobody"}, "stopped": {State: StateStopped}, "unreachable": {State: StateUnreachable},
		"window": {State: StateWindow}, "missed": {State: StateMissed}, "no-plot": {State: StateNoPlot},
		"silent": {State: StateSilent}, "circle": {InCircle: true}, "no-circle-number": {Circle: 1234},
	} {
		f.Limit = 50
		for where, in := range map[string]Scope{"every-place": scope, "one-place": {2}} {
			b.Run(name+"/"+where, func(b *testing.B) {
				var took []time.Duration
				for b.Loop() {
					began := time.Now()
					view(b, s, func(tx *Tx) error { return second(tx.FindGrowers(in, f, noon+60)) })
					took = append(took, time.Since(began))
				}
				slices.Sort(took)
				b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "ms-p95")
			})
		}
	}
}
