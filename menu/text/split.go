package text

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf16"
)

var (
	// ErrTooLong is the error for a text that needs more than 255 parts.
	ErrTooLong = errors.New("too long for a text message")
	// ErrParts is the error for parts that are not exactly the parts of one text.
	ErrParts = errors.New("not the parts of one text")
	// ErrHeader is the error for a user data header that violates 3GPP TS 23.040.
	ErrHeader = errors.New("not a user data header")
)

// Part is one SMS of a longer text, as the SMS is transmitted: 3GPP TS 23.040, clause 9.2.3.24.
type Part struct {
	Text     string   // the piece of the whole text that is in this SMS
	Alphabet Alphabet // alphabet that the data coding scheme, TP-DCS, names
	Length   int      // TP-UDL, in septets, or in octets for UCS-2; the header counts too (clause 9.2.3.16)
	Header   []byte   // user data header, which begins with its length; empty if TP-UDHI is 0
	Data     []byte   // what follows the header: fill bits and packed septets, or UTF-16, high octet first
}

// Split cuts the text into parts. If there are several parts, each part has the reference. An empty text has no parts.
// Invalid UTF-8 is sent as U+FFFD. Split returns ErrAlphabet if the encoding lacks a character, and ErrTooLong if the
// text needs too many parts.
func (e Encoded) Split(ref Reference) ([]Part, error) { return split(e.Text, e.Encoding, ref) }

func split(s string, e Encoding, ref Reference) ([]Part, error) {
	if !e.valid() {
		return nil, fmt.Errorf("text: there is no encoding %s: %w", e, ErrAlphabet)
	}
	if e.Alphabet == GSM7 {
		if _, err := e.encode(s); err != nil {
			return nil, err
		}
	}
	var texts []string
	for t := range e.cut(s, ref) {
		texts = append(texts, t)
	}
	if len(texts) > maxParts {
		return nil, fmt.Errorf("text: %d parts are needed and there can be %d: %w", len(texts), maxParts, ErrTooLong)
	}
	parts := make([]Part, len(texts))
	for i, t := range texts {
		parts[i] = e.part(t, e.header(ref, i+1, len(texts)))
	}
	return parts, nil
}

// part makes the part with the text s. The encoding e must have every character of s.
func (e Encoding) part(s string, header []byte) Part {
	p := Part{Text: s, Alphabet: e.Alphabet, Header: header}
	if e.Alphabet == UCS2 {
		for _, unit := range utf16.Encode([]rune(s)) {
			p.Data = binary.BigEndian.AppendUint16(p.Data, unit)
		}
		p.Length = len(header) + len(p.Data)
		return p
	}
	codes, _ := e.encode(s)
	p.Data = pack(codes, fillBits(len(header)))
	p.Length = septets(len(header)) + len(codes)
	return p
}

// fillBits returns the number of bits between a header and the first septet. header is the header's length in octets.
// The first septet begins at a multiple of seven bits, counted from the start of the header: TS 23.040, clause
// 9.2.3.24.
func fillBits(header int) int { return septets(header)*7 - header*8 }

// Join returns the text whose transmitted parts are given in any order. The same part may be given twice. Join returns
// ErrParts if a part is missing or belongs to another text, and ErrHeader or ErrPacked if a part cannot be decoded.
func Join(parts ...Part) (string, error) {
	if len(parts) == 0 {
		return "", nil
	}
	var first position
	var got []*Part
	var texts []string
	for i := range parts {
		at, s, err := parts[i].read()
		if err != nil {
			return "", err
		}
		if i == 0 {
			first, got, texts = at, make([]*Part, at.parts), make([]string, at.parts)
		}
		if at.ref != first.ref || at.parts != first.parts {
			return "", fmt.Errorf("text: parts of two texts: %w", ErrParts)
		}
		if before := got[at.n-1]; before != nil && !before.same(parts[i]) {
			return "", fmt.Errorf("text: part %d came twice, and not the same: %w", at.n, ErrParts)
		}
		got[at.n-1], texts[at.n-1] = &parts[i], s
	}
	if missing := slices.Index(got, nil); missing >= 0 {
		return "", fmt.Errorf("text: part %d of %d is missing: %w", missing+1, len(got), ErrParts)
	}
	return strings.Join(texts, ""), nil
}

// read decodes a part. read returns the part's position among all parts, and its text.
func (p Part) read() (position, string, error) {
	at, err := readHeader(p.Header)
	if err != nil {
		return at, "", err
	}
	if p.Alphabet == UCS2 {
		n := p.Length - len(p.Header)
		if n < 0 || n%2 != 0 || n > len(p.Data) {
			return at, "", fmt.Errorf("text: %d octets for %d of UCS-2: %w", len(p.Data), n, ErrPacked)
		}
		units := make([]uint16, n/2)
		for i := range units {
			units[i] = binary.BigEndian.Uint16(p.Data[2*i:])
		}
		return at, string(utf16.Decode(units)), nil
	}
	n, fill := p.Length-septets(len(p.Header)), fillBits(len(p.Header))
	if n < 0 || n > (len(p.Data)*8-fill)/7 {
		return at, "", fmt.Errorf("text: %d octets for %d septets: %w", len(p.Data), n, ErrPacked)
	}
	e := Encoding{GSM7, at.locking, at.single}
	return at, e.decode(unpack(p.Data, fill, n)), nil
}

func (p Part) same(q Part) bool {
	return p.Alphabet == q.Alphabet && p.Length == q.Length &&
		bytes.Equal(p.Header, q.Header) && bytes.Equal(p.Data, q.Data)
}

// These are the sizes of one SMS and of a text in several SMS.
const (
	smsOctets  = 140 // user data of one SMS, header included: TS 23.040, clause 9.2.3.24
	smsSeptets = 160 // the number of septets that fit into smsOctets
	maxParts   = 255 // the number of parts is sent in one octet: TS 23.040, clause 9.2.3.24.1
)

// These are the identifiers of the elements in a user data header. The clauses are of 3GPP TS 23.040.
const (
	elementConcat8  = 0x00 // part number, 8-bit reference: clause 9.2.3.24.1
	elementConcat16 = 0x08 // part number, 16-bit reference: clause 9.2.3.24.8
	elementSingle   = 0x24 // language of the single shift table: clause 9.2.3.24.15
	elementLocking  = 0x25 // language of the locking table: clause 9.2.3.24.16
)

// Reference is a number of 8 or 16 bits that all parts of one text have. A sender uses a different reference for each
// text to the same phone, so that the phone does not mix the parts of two texts.
type Reference struct {
	number uint16
	wide   bool
}

// Ref8 makes an 8-bit reference: TS 23.040, clause 9.2.3.24.1.
func Ref8(n uint8) Reference { return Reference{number: uint16(n)} }

// ref16 makes a 16-bit reference: TS 23.040, clause 9.2.3.24.8. 16-bit references repeat less often than 8-bit
// references, but they need one octet more in each part.
func ref16(n uint16) Reference { return Reference{number: n, wide: true} }

// header makes the user data header of part number n of parts. The header begins with its length. The header is nil if
// there is only one part and the encoding uses no national tables.
func (e Encoding) header(ref Reference, n, parts int) []byte {
	h := []byte{0}
	switch {
	case parts <= 1:
	case ref.wide:
		h = append(h, elementConcat16, 4, byte(ref.number>>8), byte(ref.number), byte(parts), byte(n))
	default:
		h = append(h, elementConcat8, 3, byte(ref.number), byte(parts), byte(n))
	}
	if e.Single != 0 {
		h = append(h, elementSingle, 1, byte(e.Single))
	}
	if e.Locking != 0 {
		h = append(h, elementLocking, 1, byte(e.Locking))
	}
	if len(h) == 1 {
		return nil
	}
	h[0] = byte(len(h) - 1)
	return h
}

// capacity returns how many septets or 16-bit units of text fit into one part. header is the length of the part's
// header in octets. In septets, a header takes up a whole number of septets (TS 23.040, clause 9.2.3.24).
func (e Encoding) capacity(header int) int {
	if e.Alphabet == UCS2 {
		return (smsOctets - header) / 2
	}
	return smsSeptets - septets(header)
}

// septets returns how many septets are needed for the given number of octets.
func septets(octets int) int { return (octets*8 + 6) / 7 }

// position is what a header says: the number of the part, the text to which the part belongs, and the national tables.
type position struct {
	ref             Reference
	n, parts        int
	locking, single Shift
}

// readHeader reads a user data header as a phone does (3GPP TS 23.040, clause 9.2.3.24 and the clauses of the
// elements). readHeader ignores unknown elements, a part number that is 0 or greater than the number of parts, and a
// language without such a table. If an element occurs twice, the second one is used. readHeader returns ErrHeader if
// the header is broken.
func readHeader(h []byte) (position, error) {
	p := position{n: 1, parts: 1}
	if len(h) == 0 {
		return p, nil
	}
	if int(h[0]) != len(h)-1 {
		return p, fmt.Errorf("text: a header of %d octets says %d: %w", len(h)-1, h[0], ErrHeader)
	}
	for rest := h[1:]; len(rest) > 0; {
		if len(rest) < 2 || len(rest) < 2+int(rest[1]) {
			return p, fmt.Errorf("text: the header's element %02X is cut short: %w", rest[0], ErrHeader)
		}
		id, data := rest[0], rest[2:2+rest[1]]
		rest = rest[2+len(data):]
		size, known := elementSize[id]
		if !known {
			continue
		}
		if len(data) != size {
			return p, fmt.Errorf("text: the header's element %02X has %d octets, not %d: %w",
				id, len(data), size, ErrHeader)
		}
		p.read(id, data)
	}
	return p, nil
}

var elementSize = map[byte]int{elementConcat8: 3, elementConcat16: 4, elementSingle: 1, elementLocking: 1}

func (p *position) read(id byte, data []byte) {
	switch id {
	case elementConcat8:
		p.number(Ref8(data[0]), data[1:])
	case elementConcat16:
		p.number(ref16(uint16(data[0])<<8|uint16(data[1])), data[2:])
	case elementSingle:
		if s := Shift(data[0]); s <= Urdu && singlePages[s] != nil {
			p.single = s
		}
	case elementLocking:
		if s := Shift(data[0]); s <= Urdu && lockingPages[s] != nil {
			p.locking = s
		}
	}
}

func (p *position) number(ref Reference, of []byte) {
	if parts, n := int(of[0]), int(of[1]); n >= 1 && n <= parts {
		p.ref, p.parts, p.n = ref, parts, n
	}
}
