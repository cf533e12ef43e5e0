package text

import (
	"encoding/hex"
	"fmt"
	"os/exec"
	"strings"
	"testing"
)

// These tests compare the package with Perl. Perl's module Encode::GSM0338 is an independent implementation of 3GPP TS
// 23.038, clauses 6.2.1 and 6.2.1.1, without national tables. Perl's functions pack and unpack write bits as text.

// perl runs a Perl script on lines of hexadecimal digits. perl returns the line that the script prints for each input
// line.
func perl(t *testing.T, script string, in []string) []string {
	t.Helper()
	// Versions of Encode::GSM0338 before 2.08 read @ as the end of the text.
	const needs = "use strict; use warnings; use Encode (); use Encode::GSM0338 2.08; "
	path, err := exec.LookPath("perl")
	if err != nil {
		t.Skip("perl is not on this machine: nothing to compare with")
	}
	if out, err := exec.Command(path, "-e", needs).CombinedOutput(); err != nil {
		t.Skipf("perl has no Encode::GSM0338 of version 2.8: nothing to compare with: %s", out)
	}
	cmd := exec.Command(path, "-ne", needs+script)
	cmd.Stdin = strings.NewReader(strings.Join(in, "\n") + "\n")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("perl: %v", err)
	}
	lines := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
	if len(lines) != len(in) {
		t.Fatalf("perl answered %d lines for %d", len(lines), len(in))
	}
	return lines
}

const (
	// perlEncode prints the septets of a UTF-8 text, first with one septet in each octet and then packed. If Perl lacks
	// a character of the text, perlEncode prints "-".
	perlEncode = `chomp; my $s = Encode::decode("UTF-8", pack "H*", $_);
my $g = Encode::encode("gsm0338", $s, Encode::FB_QUIET);
my $bits = join "", map { substr $_, 0, 7 } unpack "(A8)*", unpack "b*", $g;
print $s eq "" ? unpack("H*", $g) . " " . unpack("H*", pack "b*", $bits) : "-", "\n";`

	// perlDecode prints the UTF-8 text of septets. Each octet of the input is one septet.
	perlDecode = `chomp; print unpack("H*", Encode::encode("UTF-8", Encode::decode("gsm0338", pack "H*", $_))), "\n";`
)

// TestPerlEncodesEachCharacter checks that Perl and this package have the same characters of the Unicode range U+0000
// to U+FFFF, with the same codes.
func TestPerlEncodesEachCharacter(t *testing.T) {
	var in []string
	for r := rune(0); r <= 0xFFFF; r++ {
		if r < 0xD800 || r > 0xDFFF {
			in = append(in, hex.EncodeToString([]byte(string(r))))
		}
	}
	encoded := 0
	for i, line := range perl(t, perlEncode, in) {
		b, _ := hex.DecodeString(in[i])
		if agree(t, string(b), line) {
			encoded++
		}
	}
	if encoded != 127+10 { // TS 23.038: 127 characters of clause 6.2.1 and 10 of 6.2.1.1
		t.Errorf("%d characters are in the alphabet, not 137", encoded)
	}
}

// agree compares our septets and octets of s with Perl's. agree reports whether Perl has all characters of s.
func agree(t *testing.T, s, perl string) bool {
	t.Helper()
	got := "-"
	if septets, err := unshifted.encode(s); err == nil {
		packed, err := Pack(s)
		if err != nil {
			t.Errorf("%q: %v", s, err)
		}
		got = fmt.Sprintf("%x %x", septets, packed)
	}
	if got != perl {
		t.Errorf("%q: %s, and Perl has %s", s, got, perl)
	}
	return perl != "-"
}

func TestPerlEncodesTexts(t *testing.T) {
	letters := string(unshifted.letters())
	texts := []string{"@", "@@@@@@@@", "hello@", "\x00", "Çç", "{€}\f", "a\u0400b"} // Perl lacks \u0400
	for n := range []rune(letters) {
		texts = append(texts, string([]rune(letters + letters)[n:2*n]))
	}
	in := make([]string, len(texts))
	for i, s := range texts {
		in[i] = hex.EncodeToString([]byte(s))
	}
	for i, line := range perl(t, perlEncode, in) {
		agree(t, texts[i], line)
	}
}

// TestPerlDecodes decodes every code alone, between two letters, and after an escape. Perl and this package differ
// where a code has no character: Perl reads U+FFFD. 3GPP TS 23.038, clause 6.2.1.1, requires the character of the main
// table after an escape, and a space for a second escape. This package follows the standard.
func TestPerlDecodes(t *testing.T) {
	var in [][]byte
	for c := range byte(128) {
		if c != escape {
			in = append(in, []byte{c}, []byte{'a', c, 'b'})
		}
		in = append(in, []byte{escape, c})
	}
	lines := make([]string, len(in))
	for i, b := range in {
		lines[i] = hex.EncodeToString(b)
	}
	apart := 0
	for i, line := range perl(t, perlDecode, lines) {
		want, _ := hex.DecodeString(line)
		got := unshifted.decode(in[i])
		if b := in[i]; len(b) == 2 && b[0] == escape && extended[b[1]] == 0 {
			apart++
			main := " "
			if b[1] != escape {
				main = string(basic[b[1]])
			}
			if string(want) != "\uFFFD" || got != main {
				t.Errorf("% X: %q, and Perl has %q; want %q and U+FFFD", b, got, want, main)
			}
			continue
		}
		if got != string(want) {
			t.Errorf("% X: %q, and Perl has %q", in[i], got, want)
		}
	}
	if apart != 128-10 { // 128 codes after an escape, less the 10 of TS 23.038, clause 6.2.1.1
		t.Errorf("%d pairs have no symbol, not 118", apart)
	}
}
