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
	// ErrTooLong says that a text needs more parts than the 255 there can be.
	ErrTooLong = errors.New("too long for a text message")
	// ErrParts says that parts do not make one whole text.
	ErrParts = errors.New("not the parts of one text")
)

// Part is one SMS of a text, as it goes over the air: 3GPP TS 23.040, clause
// 9.2.3.24.
type Part struct {
	Text     string   // what it carries of the text
	Alphabet Alphabet // for the data coding scheme, TP-DCS
	Length   int      // TP-UDL, header included: septets, or octets in UCS-2 (clause 9.2.3.16)
	Header   []byte   // the user data header from its length octet on; none where TP-UDHI is 0
	Data     []byte   // what follows it: septets packed after their fill bits, or UTF-16 with the high octet first
}

// Split cuts s into the parts that carry it in e. The reference matters, and
// takes its room, only where there are several; the empty text has none. What
// is not UTF-8 in s travels as U+FFFD. It fails with ErrAlphabet or ErrTooLong.
func Split(s string, e Encoding, ref Reference) ([]Part, error) {
	if !e.exists() {
		return nil, fmt.Errorf("text: there is no encoding %s: %w", e, ErrAlphabet)
	}
	if e.Alphabet == GSM7 {
		if _, err := e.encode(s); err != nil {
			return nil, err
		}
	}
	var texts []string
	for t := range e.pieces(s, ref) {
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

// part carries s, all of which is in e.
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

// fillBits are those between a header and the first septet, which starts where
// it would if the header were septets too: TS 23.040, clause 9.2.3.24.
func fillBits(header int) int { return septets(header)*7 - header*8 }

// Join puts the text of parts together from what went over the air, in
// whatever order they come; one that came twice does no harm. It fails with
// ErrParts where one is missing or belongs to another text, and with ErrHeader
// or ErrPacked where one cannot be read.
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

// read tells where a part belongs and what a phone shows for it.
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
	return p.Alphabet == q.Alphabet && p.Length == q.Length && bytes.Equal(p.Header, q.Header) && bytes.Equal(p.Data, q.Data)
}
