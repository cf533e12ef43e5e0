package store

import "context"

// countPage is about how many rows one page of a count looks at, so that no page takes long.
const countPage = 2000

// Count is a count of the records in pages. A page looks at about two thousand rows, however many there are, and each
// page may have its own View: so a count delays neither the writer nor the reuse of the write-ahead log. A row that
// changes meanwhile is counted as it was before the change or as it is afterwards.
type Count struct {
	Looked int64 // number of rows that the pages have looked at

	size  int64 // rows in a page
	parts []countPart
	at    position
}

// countPart counts at most size rows after a position, moves the position, and returns how many rows it looked at.
type countPart func(tx *Tx, at *position, size int64) (looked int64, err error)

// position is where a part of a count continues. The zero value is its beginning.
type position struct {
	id, at int64
	key    string // a phone number or a scope
	ended  bool   // true if no rows are left
}

// Page counts one page, and reports whether it was the last one.
func (c *Count) Page(tx *Tx) (done bool, err error) {
	for end := c.Looked + c.size; len(c.parts) > 0 && c.Looked < end; {
		looked, err := c.parts[0](tx, &c.at, c.size)
		if err != nil {
			return false, fail("count", err)
		}
		c.Looked += looked
		if c.at.ended {
			c.parts, c.at = c.parts[1:], position{}
		}
	}
	return len(c.parts) == 0, nil
}

// countAll counts all pages, each in its own View.
func (s *Store) countAll(ctx context.Context, c *Count) error {
	for done := false; !done; {
		err := s.View(ctx, func(tx *Tx) (err error) {
			done, err = c.Page(tx)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// countIDs runs a query that counts the rows of one page of a table by id. Its first two columns are the number of rows
// and the highest id.
func countIDs(tx *Tx, at *position, size int64, query string, dest ...any) (looked int64, err error) {
	_, err = tx.one(query, args(at.id, size), append([]any{&looked, &at.id}, dest...)...)
	at.ended = looked < size
	return looked, err
}
