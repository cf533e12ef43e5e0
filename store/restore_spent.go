package store

// spent is a row of the table spend.
type spent struct {
	scope                        string
	day, texts, segments, micros int64
}

const (
	sqlTakeSpent = `INSERT INTO spend (scope, day, texts, segments, micros) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (scope, day) DO UPDATE SET texts = max(spend.texts, excluded.texts),
		segments = max(spend.segments, excluded.segments), micros = max(spend.micros, excluded.micros)`
	sqlSpentByNetworks = `SELECT scope, day, texts, segments, micros FROM spend
	WHERE scope = '' OR scope >= 'gateway/' AND scope < 'gateway0'`
	sqlSpentNumbers = `SELECT scope, day, texts, segments, micros FROM spend
	WHERE day = ` + asID + ` AND scope > $2 AND scope < 'number0' ORDER BY scope LIMIT CAST($3 AS BIGINT)`
	sqlSpentDays = `SELECT coalesce(max(day), 0) FROM spend`
)

// takeSpent stores the higher count of the backup and of the replaced records, so that nobody can spend a limit twice.
// The limit of a number is for a day, so its earlier days do not matter. They are read page by page, because there is a
// row for each number. If an old schema has no table spend, or damage hides rows, takeSpent goes on without them.
func (tx *Tx) takeSpent(old replaced) error {
	if old.db == nil {
		return nil
	}
	var networks []spent
	until := int64(0)
	_ = old.view(tx.ctx, func(was *Tx) (err error) {
		if networks, err = was.spentRows(sqlSpentByNetworks); err == nil {
			_, err = was.one(sqlSpentDays, nil, &until)
		}
		return err
	})
	if err := tx.putSpent(networks); err != nil || !tx.lineage(old) { // the hashes of other records mean nothing here
		return err
	}
	for day := max(dayOf(old.since), until-spendRetentionDays); day <= until; day++ {
		for scope := numberScope; ; {
			var page []spent
			_ = old.view(tx.ctx, func(was *Tx) (err error) {
				page, err = was.spentRows(sqlSpentNumbers, day, scope, formerPage)
				return err
			})
			if err := tx.putSpent(page); err != nil {
				return err
			}
			if len(page) < formerPage {
				break
			}
			scope = page[len(page)-1].scope
		}
	}
	return nil
}

func (tx *Tx) spentRows(query string, a ...any) ([]spent, error) {
	return rows(tx, query, a, func(s *spent) []any { return args(&s.scope, &s.day, &s.texts, &s.segments, &s.micros) })
}

func (tx *Tx) putSpent(list []spent) error {
	for _, s := range list {
		if err := tx.do(sqlTakeSpent, s.scope, s.day, s.texts, s.segments, s.micros); err != nil {
			return err
		}
	}
	return nil
}
