package circle

import "testing"

// The example 572 with its check digit 4 is that of the article "Damm algorithm" of the English Wikipedia (from
// memory).
func TestCheckDigit(t *testing.T) {
	if got := Checked(572); got != 5724 {
		t.Errorf("572 with its check digit is %d", got)
	}
	for n, want := range map[int]bool{5724: true, 5725: false, 7524: false, 724: false, 0: false, -5724: false} {
		if ValidNumber(n) != want {
			t.Errorf("ValidNumber(%d) is not %v", n, want)
		}
	}
}

// One wrong digit, or two neighbours swapped, never makes another number that a circle may have.
func TestSlipsAreFound(t *testing.T) {
	for three := 100; three < 1000; three++ {
		n := Checked(three)
		if !ValidNumber(n) {
			t.Fatalf("%d is not valid", n)
		}
		for unit := 1; unit <= 1000; unit *= 10 {
			digit := n / unit % 10
			for other := range 10 {
				if slip := n + (other-digit)*unit; slip != n && ValidNumber(slip) {
					t.Errorf("%d for %d is not found", slip, n)
				}
			}
			if next := n / unit / 10 % 10; unit < 1000 && next != digit {
				if slip := n + (digit-next)*10*unit + (next-digit)*unit; ValidNumber(slip) {
					t.Errorf("%d for %d is not found", slip, n)
				}
			}
		}
	}
}
