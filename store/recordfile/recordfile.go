// Package recordfile writes and reads record files: all rows of the records in a form that does not depend on the
// database, with a count and a SHA-256 of each table. Both work on streams, with the memory of one row.
//
//	w, err := recordfile.NewWriter(file, recordfile.Header{Schema: 17, Tables: tables})
//	err = w.Row(row) // of the first table, in the order of its key
//	err = w.EndTable()
//	sums, err := w.Close()
//
//	err = recordfile.Check(file) // before anything of it is used
//	r, err := recordfile.NewReader(file)
//	table, row, err := r.Next() // io.EOF at the end of a file that is whole
//
// The file is a line that names the form, and then data compressed by gzip: the header as a line of JSON, the rows,
// and the sums as a line of JSON. A row is its length and its values; the length 0 ends a table. The last sum is that
// of the whole: of the header and of all sums.
package recordfile

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
)

// Suffix is the end of the names of record files.
const Suffix = ".records"

const (
	family = "rowbell records "
	magic  = family + "1\n"
	// maxLine bounds the line of the header, and maxRow the octets of a row.
	maxLine, maxRow = 4 << 20, 64 << 20
)

// MagicSize is how many octets of a file IsRecordFile needs.
const MagicSize = len(magic)

// IsRecordFile reports whether a file begins as a record file does. head is the beginning of the file.
func IsRecordFile(head []byte) bool { return bytes.HasPrefix(head, []byte(family)) }

// Header says what a record file holds.
type Header struct {
	Schema int64            `json:"schema"` // of the tables
	At     int64            `json:"at"`     // when the file was made, in Unix seconds
	From   string           `json:"from"`   // the records that were read, without a password
	Counts Counts           `json:"counts"`
	LastID map[string]int64 `json:"last_id"` // by table: the highest id that was ever used
	Tables []Table          `json:"tables"`  // in the order of the file: a row names only rows that stand before it
}

// Counts says what the records hold, without any phone number.
type Counts struct {
	Growers   int64 `json:"growers"`
	Stopped   int64 `json:"stopped"`
	OpenPlots int64 `json:"open_plots"`
	Rows      int64 `json:"rows"` // growers, also those without a phone number
	Newest    int64 `json:"newest"`
}

// Table is a table with the columns that the file has of it.
type Table struct {
	Name    string   `json:"name"`
	Columns []Column `json:"columns"`
}

// Column is a column of a table.
type Column struct {
	Name string `json:"name"`
	Kind Kind   `json:"kind"`
}

// Sum is the count and the SHA-256 of the rows of a table in the order of its key.
type Sum struct {
	Table  string `json:"table"`
	Rows   int64  `json:"rows"`
	SHA256 string `json:"sha256"`
}

// Summer adds up the rows of a table.
type Summer struct {
	rows int64
	hash hash.Hash
}

// NewSummer returns a Summer without rows.
func NewSummer() *Summer { return &Summer{hash: sha256.New()} }

// Add adds a row, encoded by AppendRow.
func (s *Summer) Add(row []byte) {
	s.rows++
	s.hash.Write(binary.AppendUvarint(nil, uint64(len(row))))
	s.hash.Write(row)
}

// Sum returns the sum of the rows.
func (s *Summer) Sum(table string) Sum {
	return Sum{Table: table, Rows: s.rows, SHA256: hex.EncodeToString(s.hash.Sum(nil))}
}

// sumsLine returns the last line of a record file, without its end.
func sumsLine(header []byte, tables []Sum) ([]byte, error) {
	whole := sha256.New()
	whole.Write(header)
	for _, s := range tables {
		fmt.Fprintf(whole, "%s %d %s\n", s.Table, s.Rows, s.SHA256)
	}
	return json.Marshal(struct {
		Tables []Sum  `json:"tables"`
		Whole  string `json:"whole"`
	}{tables, hex.EncodeToString(whole.Sum(nil))})
}

// Writer writes a record file.
type Writer struct {
	h      Header
	header []byte
	zip    *gzip.Writer
	out    *bufio.Writer
	sum    *Summer
	done   []Sum
	buffer []byte
}

// NewWriter writes the header. The caller then gives the rows of each table of the header, in its order.
func NewWriter(w io.Writer, h Header) (*Writer, error) {
	header, err := json.Marshal(h)
	if err != nil {
		return nil, err
	}
	if _, err := io.WriteString(w, magic); err != nil {
		return nil, err
	}
	zip := gzip.NewWriter(w)
	f := &Writer{h: h, header: header, zip: zip, out: bufio.NewWriterSize(zip, 1<<16), sum: NewSummer()}
	return f, f.line(header)
}

func (f *Writer) line(b []byte) error {
	_, err := f.out.Write(append(b, '\n'))
	return err
}

// Row adds a row to the table in turn. The row has a value for each column of the table.
func (f *Writer) Row(row []any) error {
	if len(f.done) == len(f.h.Tables) || !f.h.Tables[len(f.done)].fits(row) {
		return errRow
	}
	f.buffer = AppendRow(f.buffer[:0], row)
	f.sum.Add(f.buffer)
	var size [binary.MaxVarintLen64]byte
	_, err := f.out.Write(binary.AppendUvarint(size[:0], uint64(len(f.buffer))))
	if err == nil {
		_, err = f.out.Write(f.buffer)
	}
	return err
}

// EndTable ends the table in turn.
func (f *Writer) EndTable() error {
	f.done = append(f.done, f.sum.Sum(f.h.Tables[len(f.done)].Name))
	f.sum = NewSummer()
	return f.out.WriteByte(0)
}

// Close writes the sums, which it returns. It does not close the file.
func (f *Writer) Close() ([]Sum, error) {
	if len(f.done) != len(f.h.Tables) {
		return nil, errors.New("recordfile: a table was not ended")
	}
	last, err := sumsLine(f.header, f.done)
	if err == nil {
		err = f.line(last)
	}
	return f.done, errors.Join(err, f.out.Flush(), f.zip.Close())
}
