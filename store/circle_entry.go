package store

import (
	"cmp"
	"slices"

	"rowbell/engine/circle"
)

const (
	sqlBalances = `SELECT coalesce(e.debtor_id, 0), coalesce(e.creditor_id, 0), CAST(sum(e.amount) AS BIGINT)
	FROM circle_entry e WHERE e.circle_id = ` + asID + ` GROUP BY e.debtor_id, e.creditor_id`
	entryColumns = `e.id, e.day, coalesce(e.debtor_id, 0), coalesce(e.creditor_id, 0), e.amount, e.kind,
		coalesce(e.tool_id, 0), coalesce(e.corrects, 0)`
	// If $3 is 1, the entries of the circle are read too.
	sqlEntries = `SELECT ` + entryColumns + ` FROM circle_entry e WHERE e.circle_id = ` + asID + `
		AND (e.debtor_id = CAST($2 AS BIGINT) OR e.creditor_id = CAST($2 AS BIGINT)
			OR CAST($3 AS BIGINT) = 1 AND (e.debtor_id IS NULL OR e.creditor_id IS NULL))
	ORDER BY e.id DESC LIMIT 20`
	sqlDisputed = `SELECT ` + askColumns + ` FROM circle_ask a JOIN circle c ON c.id = a.circle_id
	WHERE a.circle_id = ` + asID + ` AND a.state = 2 AND a.kind >= ` + askWeeded + `
		AND (a.from_id = CAST($2 AS BIGINT) OR a.to_id = CAST($2 AS BIGINT))
	ORDER BY a.id DESC LIMIT 20`
	sqlOwnPersons = `SELECT m.id, m.circle_id, c.number, m.joined, m.keeper FROM circle_member m
	JOIN circle c ON c.id = m.circle_id WHERE m.grower_id = ` + asID + ` ORDER BY m.id`
	sqlEntry = `SELECT ` + entryColumns + `, e.circle_id,
		EXISTS (SELECT 1 FROM circle_entry x WHERE x.corrects = e.id)
	FROM circle_entry e WHERE e.id = ` + asID
	sqlTakeBack = sqlEnter + ` ON CONFLICT (corrects) DO NOTHING`
)

var _ = [1]struct{}{}[circle.AskNo-2] // compiles only if sqlDisputed is right

func intoEntry(e *circle.Entry) []any {
	return args(&e.ID, &e.On, &e.Debtor, &e.Creditor, &e.Amount, &e.Kind, &e.Tool, &e.Corrects)
}

// Accounts returns the accounts of the grower as a member, as a guest and as a former member, by the number of the
// circle. A member sees the balances of all; others see their own, and that of the circle as the rest of it.
func (l *Ledger) Accounts() (map[int]circle.Account, error) {
	all := map[int]circle.Account{}
	if !l.inCircles {
		return all, nil
	}
	type own struct {
		id, circle     int64
		number         int
		joined, keeper bool
	}
	list, err := rows(l.tx, sqlOwnPersons, args(l.id), func(o *own) []any {
		return args(&o.id, &o.circle, &o.number, &o.joined, &o.keeper)
	})
	for _, o := range list {
		if err != nil {
			break
		}
		a := circle.Account{Self: o.id}
		if a.Balances, err = l.tx.balances(o.circle); err == nil {
			a.Entries, err = rows(l.tx, sqlEntries, args(o.circle, o.id, o.keeper), intoEntry)
		}
		if err == nil {
			a.Disputed, err = rows(l.tx, sqlDisputed, args(o.circle, o.id), intoAsk)
		}
		if !o.joined {
			a.Balances = ownBalance(a.Balances, o.id)
		}
		all[o.number] = a
	}
	return all, fail("accounts", err)
}

// balances returns the balance of each person of a circle with an entry, by id; 0 is the circle. They sum to zero.
func (tx *Tx) balances(circleID int64) ([]circle.Balance, error) {
	sum := map[int64]int64{}
	err := tx.each(sqlBalances, args(circleID), func(scan func(...any) error) error {
		var debtor, creditor, amount int64
		err := scan(&debtor, &creditor, &amount)
		sum[debtor] -= amount
		sum[creditor] += amount
		return err
	})
	var list []circle.Balance
	for id, amount := range sum {
		list = append(list, circle.Balance{Member: id, Amount: amount})
	}
	slices.SortFunc(list, func(a, b circle.Balance) int { return cmp.Compare(a.Member, b.Member) })
	return list, fail("balances", err)
}

// ownBalance returns the balance of one person, with that of the circle as the rest.
func ownBalance(all []circle.Balance, id int64) []circle.Balance {
	for _, b := range all {
		if b.Member == id {
			return []circle.Balance{{Member: 0, Amount: -b.Amount}, b}
		}
	}
	return nil
}

// TakeBack writes an entry against an entry in which this grower, or for the keeper the circle, is the creditor. It
// returns ErrAskOver if the entry was taken back before.
func (l *Ledger) TakeBack(entry int64) error { return fail("take back", l.takeBack(entry)) }

func (l *Ledger) takeBack(id int64) error {
	var e circle.Entry
	var circleID int64
	var taken bool
	read := func() error {
		known, err := l.tx.one(sqlEntry, args(id), append(intoEntry(&e), &circleID, &taken)...)
		if err == nil && !known {
			err = circle.ErrNoCircle
		}
		return err
	}
	if err := read(); err != nil {
		return err
	}
	_, self, err := l.enter(circleID)
	if err == nil {
		err = read() // once more, because another transaction may have taken it back before this one had the circle
	}
	switch {
	case err != nil:
		return err
	case self == nil:
		return circle.ErrNoCircle
	case e.Corrects != 0 || e.Creditor != self.ID && (e.Creditor != 0 || !self.Keeper):
		return circle.ErrNotAllowed
	case taken:
		return circle.ErrAskOver
	}
	return l.do(sqlTakeBack, circleID, l.Today(), orNull(e.Creditor), orNull(e.Debtor), e.Amount, e.Kind,
		orNull(e.Tool), nil, nil, e.ID)
}
