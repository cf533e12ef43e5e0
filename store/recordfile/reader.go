package recordfile

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
)

// These errors are reasons to refuse a record file.
var (
	ErrChanged = errors.New("the file was cut off or changed after it was made")
	ErrNewer   = errors.New("the file has a form that a newer version of this program writes")
	ErrOther   = errors.New("the file is not a record file of rowbell")
)

// Reader reads a record file.
type Reader struct {
	h      Header
	header []byte
	file   *bufio.Reader
	in     *bufio.Reader
	sum    *Summer
	done   []Sum
	ended  bool
	buffer []byte
}

// NewReader reads the header of a record file.
func NewReader(file io.Reader) (*Reader, error) {
	r := &Reader{file: bufio.NewReaderSize(file, 1<<16), sum: NewSummer()}
	head := make([]byte, MagicSize)
	switch _, err := io.ReadFull(r.file, head); {
	case disk(err):
		return nil, err
	case !IsRecordFile(head):
		return nil, ErrOther
	case string(head) != magic:
		return nil, ErrNewer
	}
	zip, err := gzip.NewReader(r.file)
	if err != nil {
		return nil, explain(err)
	}
	zip.Multistream(false)
	r.in = bufio.NewReaderSize(zip, 1<<16)
	if r.header, err = r.line(); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(r.header, &r.h); err != nil {
		return nil, ErrChanged
	}
	return r, nil
}

// Header returns the header. It can only be trusted after the whole file was read.
func (r *Reader) Header() Header { return r.h }

// line reads a line, without its end.
func (r *Reader) line() ([]byte, error) {
	var line []byte
	for {
		part, err := r.in.ReadSlice('\n')
		line = append(line, part...)
		switch {
		case err == nil:
			return bytes.TrimSuffix(line, []byte("\n")), nil
		case errors.Is(err, bufio.ErrBufferFull) && len(line) <= maxLine:
		case errors.Is(err, bufio.ErrBufferFull):
			return nil, ErrChanged
		default:
			return nil, explain(err)
		}
	}
}

// Next returns the next row and the number of its table in the header. It returns io.EOF at the end of a file whose
// sums are right, and ErrChanged if the file is not as it was written.
func (r *Reader) Next() (table int, row []any, err error) {
	for len(r.done) < len(r.h.Tables) {
		table = len(r.done)
		size, err := binary.ReadUvarint(r.in)
		switch {
		case err != nil:
			return 0, nil, explain(err)
		case size > maxRow:
			return 0, nil, ErrChanged
		case size == 0:
			r.done = append(r.done, r.sum.Sum(r.h.Tables[table].Name))
			r.sum = NewSummer()
			continue
		}
		r.buffer = slices.Grow(r.buffer[:0], int(size))[:size]
		if _, err := io.ReadFull(r.in, r.buffer); err != nil {
			return 0, nil, explain(err)
		}
		r.sum.Add(r.buffer)
		if row, err = ParseRow(r.buffer); err != nil || !r.h.Tables[table].fits(row) {
			return 0, nil, ErrChanged
		}
		return table, row, nil
	}
	if !r.ended {
		if err := r.end(); err != nil {
			return 0, nil, err
		}
		r.ended = true
	}
	return 0, nil, io.EOF
}

// end compares the sums of what was read with those in the file, and makes sure that nothing follows.
func (r *Reader) end() error {
	line, err := r.line()
	if err != nil {
		return err
	}
	if want, err := sumsLine(r.header, r.done); err != nil || !bytes.Equal(line, want) {
		return ErrChanged
	}
	for _, rest := range []io.Reader{r.in, r.file} { // reading to the end also checks the sum of gzip
		switch n, err := io.Copy(io.Discard, rest); {
		case err != nil:
			return explain(err)
		case n > 0:
			return ErrChanged
		}
	}
	return nil
}

// Check reads a whole record file and returns its header and sums. It returns ErrChanged if the file is not as it was
// written.
func Check(file io.Reader) (Header, []Sum, error) {
	r, err := NewReader(file)
	if err != nil {
		return Header{}, nil, err
	}
	for {
		switch _, _, err := r.Next(); {
		case err == io.EOF:
			return r.h, r.done, nil
		case err != nil:
			return r.h, nil, err
		}
	}
}

// disk reports whether an error is one of the system, and not of the content.
func disk(err error) bool {
	var system interface{ Timeout() bool } // fs.PathError and other errors of the system have it
	return errors.As(err, &system)
}

// explain keeps the errors of the system, and makes ErrChanged of the others.
func explain(err error) error {
	if disk(err) || errors.Is(err, ErrChanged) {
		return err
	}
	return fmt.Errorf("%w (%w)", ErrChanged, err)
}
