package text

import (
	"errors"
	"fmt"
)

// ErrAlphabet is the error for a character that the encoding lacks.
var ErrAlphabet = errors.New("not in the GSM 7-bit alphabet")

// ErrPacked is the error for octets that are too few for the given number of septets.
var ErrPacked = errors.New("fewer octets than septets need")

// Pack packs s into octets as an SMS does: seven bits for each septet, the lowest bits first (3GPP TS 23.038, clause
// 6.1.2.1). The receiver must also be told the number of septets. Pack returns ErrAlphabet if the alphabet lacks a
// character of s.
func Pack(s string) ([]byte, error) {
	septets, err := unshifted.encode(s)
	if err != nil {
		return nil, err
	}
	return pack(septets, 0), nil
}

// Unpack reads n septets that Pack has packed. Unpack returns ErrPacked if there are too few octets.
func Unpack(packed []byte, n int) (string, error) {
	if n < 0 || n > len(packed)*8/7 {
		return "", fmt.Errorf("text: %d octets for %d septets: %w", len(packed), n, ErrPacked)
	}
	return unshifted.decode(unpack(packed, 0, n)), nil
}

// UnpackUSSD reads a packed USSD string (TS 23.038, clause 6.1.2.3.1). A carriage return that fills the last octet is
// padding, and UnpackUSSD removes it.
func UnpackUSSD(packed []byte) string {
	septets := unpack(packed, 0, len(packed)*8/7)
	n := len(septets)
	if n > 0 && n%8 == 0 && septets[n-1] == '\r' {
		septets = septets[:n-1]
	}
	return unshifted.decode(septets)
}

// pack packs septets into octets. pack puts fill zero bits before the first septet.
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

// unpack reads n septets from packed octets. unpack skips the first fill bits.
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

// octets returns how many octets are needed for the given number of packed septets.
func octets(septets int) int { return (septets*7 + 7) / 8 }
