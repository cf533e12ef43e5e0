package text

import (
	"errors"
	"fmt"
)

// ErrAlphabet reports a character that the encoding lacks.
var ErrAlphabet = errors.New("not in the GSM 7-bit alphabet")

// ErrPacked reports fewer octets than the stated number of septets needs.
var ErrPacked = errors.New("fewer octets than septets need")

// Pack, Unpack, PackUSSD and UnpackUSSD are for networks that carry texts as packed octets, for example in hexadecimal.

// Pack packs s into octets as an SMS carries it: seven bits a septet, the lowest bits first (3GPP TS 23.038, clause
// 6.1.2.1). The number of septets is sent beside the octets. It fails with ErrAlphabet.
func Pack(s string) ([]byte, error) {
	septets, err := unshifted.encode(s)
	if err != nil {
		return nil, err
	}
	return pack(septets, 0), nil
}

// Unpack reads n septets packed by Pack. It fails with ErrPacked.
func Unpack(packed []byte, n int) (string, error) {
	if n < 0 || n > len(packed)*8/7 {
		return "", fmt.Errorf("text: %d octets for %d septets: %w", len(packed), n, ErrPacked)
	}
	return unshifted.decode(unpack(packed, 0, n)), nil
}

// PackUSSD packs s as a USSD string, which has no count of septets (TS 23.038, clause 6.1.2.3.1). If seven bits are
// left over, they are filled with a carriage return, because seven zero bits would be read as "@". A text that ends
// with a carriage return on an octet boundary gets a second one.
func PackUSSD(s string) ([]byte, error) {
	septets, err := unshifted.encode(s)
	if err != nil {
		return nil, err
	}
	n := len(septets)
	if n%8 == 7 || n > 0 && n%8 == 0 && septets[n-1] == '\r' {
		septets = append(septets, '\r')
	}
	return pack(septets, 0), nil
}

// UnpackUSSD reads a packed USSD string. A final carriage return that ends on an octet boundary is padding and is
// dropped.
func UnpackUSSD(packed []byte) string {
	septets := unpack(packed, 0, len(packed)*8/7)
	n := len(septets)
	if n > 0 && n%8 == 0 && septets[n-1] == '\r' {
		septets = septets[:n-1]
	}
	return unshifted.decode(septets)
}

// pack packs septets, and leaves fill bits free before the first one.
func pack(septets []byte, fill int) []byte {
	out := make([]byte, (fill+7*len(septets)+7)/8)
	for i, s := range septets {
		bit := fill + i*7
		wide := uint16(s) << (bit % 8)
		out[bit/8] |= byte(wide)
		if wide > 0xFF {
			out[bit/8+1] |= byte(wide >> 8)
		}
	}
	return out
}

// unpack reads n septets that begin after fill bits.
func unpack(packed []byte, fill, n int) []byte {
	out := make([]byte, n)
	for i := range out {
		bit := fill + i*7
		wide := uint16(packed[bit/8])
		if bit/8+1 < len(packed) {
			wide |= uint16(packed[bit/8+1]) << 8
		}
		out[i] = byte(wide>>(bit%8)) & 0x7F
	}
	return out
}

// octets is the number of octets that a number of packed septets occupies.
func octets(septets int) int { return (septets*7 + 7) / 8 }
