package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Tx is a transaction, for example for one callback, or for a batch of reminders or texts. It must not be used
// after the function that received it has returned.
type Tx struct {
	ctx  context.Context
	s    *Store
	conn *sql.Conn
	pg   *serverTx // nil in a SQLite file
	kept func()    // see Kept

	rounds *Rounds // whose step the transaction is; nil: it is no step of Rounds.Write
	plans  bool    // a statement may have changed what DueGrowers reads
}

// note must be called with each statement before it runs. It passes the statement to Options.OnStatement.
func (tx *Tx) note(query string) {
	tx.plans = tx.plans || changesPlans(query)
	if tx.s != nil && tx.s.onStatement != nil { // there is no store if only a file is looked at
		tx.s.onStatement(query)
	}
}

func (tx *Tx) exec(query string, args ...any) (int64, error) {
	tx.note(query)
	query, args, err := tx.ready(query, args)
	if err != nil {
		return 0, err
	}
	r, err := tx.conn.ExecContext(tx.ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// do runs a statement. It is for callers that do not need the number of changed rows.
func (tx *Tx) do(query string, args ...any) error {
	if tx.pg != nil && tx.pg.writes {
		tx.note(query)
		return tx.later(query, args)
	}
	return second(tx.exec(query, args...))
}

// one reads one row of a query into dest. It returns false if the query has no row.
func (tx *Tx) one(query string, args []any, dest ...any) (bool, error) {
	tx.note(query)
	query, args, err := tx.ready(query, args)
	if err != nil {
		return false, err
	}
	err = tx.conn.QueryRowContext(tx.ctx, query, args...).Scan(dest...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// each calls the function row for every row of a query. The query is still open then, so row must not use the
// transaction.
func (tx *Tx) each(query string, args []any, row func(scan func(...any) error) error) error {
	tx.note(query)
	query, args, err := tx.ready(query, args)
	if err != nil {
		return err
	}
	rows, err := tx.conn.QueryContext(tx.ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

// rows returns all rows of a query, or the rows before an error. The function into returns pointers to the variables
// that receive the columns.
func rows[T any](tx *Tx, query string, a []any, into func(*T) []any) (list []T, err error) {
	err = tx.each(query, a, func(scan func(...any) error) error {
		var v T
		err := scan(into(&v)...)
		if err == nil {
			list = append(list, v)
		}
		return err
	})
	return list, err
}

// grouped is like rows, but groups the rows by their first column, an integer. The function into is for the other
// columns.
func grouped[T any](tx *Tx, query string, a []any, into func(*T) []any) (map[int64][]T, error) {
	all := map[int64][]T{}
	err := tx.each(query, a, func(scan func(...any) error) error {
		var key int64
		var v T
		err := scan(append(args(&key), into(&v)...)...)
		if err == nil {
			all[key] = append(all[key], v)
		}
		return err
	})
	return all, err
}

// column returns all values of a query that has one column.
func column[T any](tx *Tx, query string, a []any) ([]T, error) {
	return rows(tx, query, a, func(v *T) []any { return args(v) })
}

func args(a ...any) []any { return a }

// second returns the second result of a call, which is an error.
func second[T any](_ T, err error) error { return err }

// fail adds the name of the failed operation to an error.
func fail(op string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("store: %s: %w", op, err)
}

// orNull returns v, or nil (NULL in the database) if v is the zero value.
func orNull[T comparable](v T) any {
	var zero T
	if v == zero {
		return nil
	}
	return v
}

// blob returns b, or an empty slice if b is nil, because nil would be stored as NULL.
func blob(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
