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
	// ErrTooLong reports a text of more than 255 parts.
	ErrTooLong = errors.New("too long for a text message")
	// ErrParts reports parts that are not all the parts of one text.
	ErrParts = errors.New("not the parts of one text")
	// ErrHeader reports a user data header that violates 3GPP TS 23.040.
	ErrHeader = errors.New("not a user data header")
)

// Part is one SMS of a longer text as it is transmitted: 3GPP TS 23.040, clause 9.2.3.24.
type Part struct {
	Text     string   // the piece of the whole text that this SMS carries
	Alphabet Alphabet // for the data coding scheme, TP-DCS
	Length   int      // TP-UDL, header included: septets, or octets in UCS-2 (clause 9.2.3.16)
	Header   []byte   // user data header, with its length octet; none where TP-UDHI is 0
	Data     []byte   // after the header: fill bits and packed septets, or big-endian UTF-16
}

// Split cuts the text into parts. If there are several parts, each carries the reference; the empty text has no part.
// Invalid UTF-8 is sent as U+FFFD. It fails with ErrAlphabet if the encoding lacks a character, and with ErrTooLong.
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

// part makes the part that carries s. e must cover s.
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

// fillBits is the number of bits between a header, of a length in octets, and the first septet, which begins on a
// septet boundary counted from the start of the header: TS 23.040, clause 9.2.3.24.
func fillBits(header int) int { return septets(header)*7 - header*8 }

// Join puts a text together from its transmitted parts, in any order; a part may come twice. It fails with ErrParts if
// a part is missing or belongs to another text, and with ErrHeader or ErrPacked if a part cannot be read.
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

// read decodes a part: its position among the parts, and the piece of the text that it carries.
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

// Capacity of one SMS and of a text.
const (
	smsOctets  = 140 // of user data, header included: TS 23.040, clause 9.2.3.24
	smsSeptets = 160 // smsOctets in septets
	maxParts   = 255 // of a text: the number of parts is sent as one octet (clause 9.2.3.24.1)
)

// Identifiers of the information elements in a header: clause 9.2.3.24.
const (
	elementConcat8  = 0x00 // clause 9.2.3.24.1
	elementConcat16 = 0x08 // clause 9.2.3.24.8
	elementSingle   = 0x24 // clause 9.2.3.24.15
	elementLocking  = 0x25 // clause 9.2.3.24.16
)

// Reference is the number that the parts of one text share, of 8 or 16 bits. A
// sender uses a different one for each text to the same phone.
type Reference struct {
	number uint16
	wide   bool
}

// Ref8 is an 8-bit reference: TS 23.040, clause 9.2.3.24.1.
func Ref8(n uint8) Reference { return Reference{number: uint16(n)} }

// ref16 is a 16-bit reference (clause 9.2.3.24.8). It repeats less often than an
// 8-bit one and takes one octet more of each part.
func ref16(n uint16) Reference { return Reference{number: n, wide: true} }

// header makes the user data header of part n, its length octet first. A single part without national tables has no
// header (nil).
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

// capacity is the length of the text in a part, in septets or 16-bit units, beside a header of a length in octets. A
// header takes up whole septets (clause 9.2.3.24).
func (e Encoding) capacity(header int) int {
	if e.Alphabet == UCS2 {
		return (smsOctets - header) / 2
	}
	return smsSeptets - septets(header)
}

// septets is the number of septets that a number of octets occupies.
func septets(octets int) int { return (octets*8 + 6) / 7 }

// position is the content of a header: which part of which text it is, and the national tables.
type position struct {
	ref             Reference
	n, parts        int
	locking, single Shift
}

// readHeader reads a user data header as a phone does (clause 9.2.3.24 and the clauses of the elements). It ignores
// unknown elements, a part number of 0 or above the number of parts, and a language without such a table. Of two
// elements of one kind the last counts. It fails with ErrHeader.
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
