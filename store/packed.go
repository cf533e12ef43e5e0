package store

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
)

// packed is rows in one parameter, so that one statement writes any number of rows: a JSON array, with an array for
// each row. The statement reads them FROM jsonb_each($1); the first column of a row is then value->>0. An integer needs
// a cast, because PostgreSQL returns text; octets are read by unhex. In SQLite jsonb_each does not write each row as
// text again, as json_each does: the bell takes 6 % less processor time (measured).
type packed []byte

// add adds a row. The values are integers, strings, octets or nil. What is not valid in text on a server is replaced in
// a file too, see pgText.
func (p *packed) add(values ...any) {
	b := *p
	for i, v := range values {
		switch {
		case i > 0:
			b = append(b, ',')
		case len(b) > 0:
			b = append(b, ",["...)
		default:
			b = append(b, "[["...)
		}
		switch v := v.(type) {
		case nil:
			b = append(b, "null"...)
		case int64:
			b = strconv.AppendInt(b, v, 10)
		case string:
			quoted, _ := json.Marshal(pgText(v)) // a string can always be encoded
			b = append(b, quoted...)
		case []byte:
			b = append(hex.AppendEncode(append(b, '"'), v), '"')
		default:
			panic(fmt.Sprintf("store: a value of type %T in a row", v))
		}
	}
	*p = append(b, ']')
}

// parameter returns the value of the parameter.
func (p *packed) parameter() string { return string(*p) + "]" }

// write runs a statement with the rows, if there are any.
func (p *packed) write(tx *Tx, query string) error {
	if len(*p) == 0 {
		return nil
	}
	return tx.do(query, p.parameter())
}
