package recordfile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Kind is the kind of a column's values.
type Kind string

// These are the kinds of columns. A value of any kind may also be missing (NULL).
const (
	Integer Kind = "integer" // int64
	Real    Kind = "real"    // float64, bit for bit
	Text    Kind = "text"    // string
	Blob    Kind = "blob"    // []byte
)

// The first octet of a value. The value follows: an integer as a varint, a real as the 8 octets of its bits, a text or
// blob as its length and its octets.
const (
	tagNull = iota
	tagInteger
	tagReal
	tagText
	tagBlob
)

// AppendRow appends the encoded values of a row to b. It panics if a value is not nil or of the type of a kind.
func AppendRow(b []byte, row []any) []byte {
	for _, v := range row {
		switch x := v.(type) {
		case nil:
			b = append(b, tagNull)
		case int64:
			b = binary.AppendVarint(append(b, tagInteger), x)
		case float64:
			b = binary.BigEndian.AppendUint64(append(b, tagReal), math.Float64bits(x))
		case string:
			b = append(binary.AppendUvarint(append(b, tagText), uint64(len(x))), x...)
		case []byte:
			b = append(binary.AppendUvarint(append(b, tagBlob), uint64(len(x))), x...)
		default:
			panic(fmt.Sprintf("recordfile: a value of the type %T", v))
		}
	}
	return b
}

var errRow = errors.New("a row cannot be read")

// ParseRow reads the values of an encoded row.
func ParseRow(b []byte) (row []any, err error) {
	for len(b) > 0 {
		tag := b[0]
		b = b[1:]
		switch tag {
		case tagNull:
			row = append(row, nil)
		case tagInteger:
			x, n := binary.Varint(b)
			if n <= 0 {
				return nil, errRow
			}
			row, b = append(row, x), b[n:]
		case tagReal:
			if len(b) < 8 {
				return nil, errRow
			}
			row, b = append(row, math.Float64frombits(binary.BigEndian.Uint64(b))), b[8:]
		case tagText, tagBlob:
			size, n := binary.Uvarint(b)
			if n <= 0 || size > uint64(len(b)-n) {
				return nil, errRow
			}
			x := b[n : n+int(size)]
			b = b[n+int(size):]
			if tag == tagText {
				row = append(row, string(x))
			} else {
				row = append(row, append([]byte{}, x...))
			}
		default:
			return nil, errRow
		}
	}
	return row, nil
}

// fits reports whether the row has a value of the right type, or NULL, for each column.
func (t Table) fits(row []any) bool {
	if len(row) != len(t.Columns) {
		return false
	}
	for i, v := range row {
		kind := t.Columns[i].Kind
		switch v.(type) {
		case int64:
			kind = Integer
		case float64:
			kind = Real
		case string:
			kind = Text
		case []byte:
			kind = Blob
		}
		if kind != t.Columns[i].Kind {
			return false
		}
	}
	return true
}
