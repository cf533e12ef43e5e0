package text

import (
	"errors"
	"fmt"
	"strings"
)

// ErrAlphabet says that a text has a character outside the GSM 7-bit alphabet.
var ErrAlphabet = errors.New("not in the GSM 7-bit alphabet")

// ErrPacked says that octets are too few for the septets they should hold.
var ErrPacked = errors.New("fewer octets than septets need")

// Pack packs s into octets, seven bits a septet, the lowest bits first (3GPP TS
// 23.038, clause 6.1.2.1, as an SMS carries them; the septets are counted
// beside). It fails with ErrAlphabet.
func Pack(s string) ([]byte, error) {
	septets, err := encode(s)
	if err != nil {
		return nil, err
	}
	return pack(septets), nil
}

// Unpack reads n septets packed by Pack. It fails with ErrPacked.
func Unpack(packed []byte, n int) (string, error) {
	if n < 0 || octets(n) > len(packed) {
		return "", fmt.Errorf("text: %d octets for %d septets: %w", len(packed), n, ErrPacked)
	}
	return decode(unpack(packed, n)), nil
}

// PackUSSD packs s for a USSD string, which carries no count of septets (TS
// 23.038, clause 6.1.2.3.1): where seven bits would be left over, a carriage
// return fills them, lest they read as "@"; a text that itself ends with a
// carriage return on an octet boundary gets a second one.
func PackUSSD(s string) ([]byte, error) {
	septets, err := encode(s)
	if err != nil {
		return nil, err
	}
	n := len(septets)
	if n%8 == 7 || n > 0 && n%8 == 0 && septets[n-1] == '\r' {
		septets = append(septets, '\r')
	}
	return pack(septets), nil
}

// UnpackUSSD reads a packed USSD string. A final carriage return on an octet
// boundary is the padding and is dropped.
func UnpackUSSD(packed []byte) string {
	septets := unpack(packed, len(packed)*8/7)
	n := len(septets)
	if n > 0 && n%8 == 0 && septets[n-1] == '\r' {
		septets = septets[:n-1]
	}
	return decode(septets)
}

func encode(s string) ([]byte, error) {
	septets := make([]byte, 0, len(s))
	for _, r := range s {
		c, ok := codes[r]
		if !ok {
			return nil, fmt.Errorf("text: %q: %w", r, ErrAlphabet)
		}
		if c.extended {
			septets = append(septets, escape)
		}
		septets = append(septets, c.septet)
	}
	return septets, nil
}

// decode reads septets as a phone does: an escape before a code that the
// extension table lacks shows the code's symbol of the main table; an escape
// before an escape, or at the end, shows a space (clause 6.2.1.1 and its note).
func decode(septets []byte) string {
	var b strings.Builder
	for i := 0; i < len(septets); i++ {
		if septets[i] != escape {
			b.WriteRune(basic[septets[i]])
			continue
		}
		i++
		if i == len(septets) || septets[i] == escape {
			b.WriteByte(' ')
		} else if r, ok := extended[septets[i]]; ok {
			b.WriteRune(r)
		} else {
			b.WriteRune(basic[septets[i]])
		}
	}
	return b.String()
}

func pack(septets []byte) []byte {
	out := make([]byte, octets(len(septets)))
	for i, s := range septets {
		bit := i * 7
		wide := uint16(s) << (bit % 8)
		out[bit/8] |= byte(wide)
		if wide > 0xFF {
			out[bit/8+1] |= byte(wide >> 8)
		}
	}
	return out
}

func unpack(packed []byte, n int) []byte {
	out := make([]byte, n)
	for i := range out {
		bit := i * 7
		wide := uint16(packed[bit/8])
		if bit/8+1 < len(packed) {
			wide |= uint16(packed[bit/8+1]) << 8
		}
		out[i] = byte(wide>>(bit%8)) & 0x7F
	}
	return out
}
