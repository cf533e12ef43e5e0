package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Tx is a transaction: one callback, a batch of the bell, a batch of the outbox. It must not be used
// after the function that it was passed to returns.
type Tx struct {
	ctx  context.Context
	s    *Store
	conn *sql.Conn
}

func (tx *Tx) exec(query string, args ...any) (int64, error) {
	r, err := tx.conn.ExecContext(tx.ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// one reads the row of a query; it returns false if there is no row.
func (tx *Tx) one(query string, args []any, dest ...any) (bool, error) {
	err := tx.conn.QueryRowContext(tx.ctx, query, args...).Scan(dest...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// each calls row for every row of a query. row must not use the transaction.
func (tx *Tx) each(query string, args []any, row func(scan func(...any) error) error) error {
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

// rows reads all rows of a query; after an error, the rows before the error. into returns pointers to which
// the columns of a row are scanned.
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

// column reads all rows of a query with one column.
func column[T any](tx *Tx, query string, a []any) ([]T, error) {
	return rows(tx, query, a, func(v *T) []any { return args(v) })
}

func args(a ...any) []any { return a }

// fail adds the operation to an error.
func fail(op string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("store: %s: %w", op, err)
}

// orNull returns v, or NULL for the zero value.
func orNull[T comparable](v T) any {
	var zero T
	if v == zero {
		return nil
	}
	return v
}

// blob returns b, never NULL.
func blob(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
