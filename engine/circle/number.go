package circle

// damm is the table of a check digit by H. M. Damm (Total anti-symmetrische Quasigruppen, thesis, Marburg 2004): it
// finds every wrong digit and every swap of two digits that stand side by side.
var damm = [10][10]int{
	{0, 3, 1, 7, 5, 9, 8, 6, 4, 2},
	{7, 0, 9, 2, 1, 5, 4, 8, 6, 3},
	{4, 2, 0, 6, 8, 7, 1, 3, 5, 9},
	{1, 7, 5, 0, 9, 8, 3, 4, 2, 6},
	{6, 1, 2, 3, 0, 4, 5, 9, 7, 8},
	{3, 6, 7, 4, 2, 0, 9, 5, 8, 1},
	{5, 8, 6, 9, 7, 2, 0, 1, 3, 4},
	{8, 9, 4, 5, 3, 6, 2, 0, 1, 7},
	{9, 4, 3, 8, 6, 1, 7, 2, 0, 5},
	{2, 5, 8, 1, 4, 3, 6, 7, 9, 0},
}

// check returns the check digit of a number; 0 if its last digit is its check digit.
func check(n int) int {
	if n == 0 {
		return 0
	}
	return damm[check(n/10)][n%10]
}

// Checked returns n with its check digit behind it.
func Checked(n int) int { return 10*n + check(n) }

// LeastNumber is the least number of a circle. Numbers have four digits, and more only if most of these are taken.
const LeastNumber = 1000

// ValidNumber reports whether a circle may have the number n. It is false for a number with one wrong digit, and for
// one with two neighbours swapped.
func ValidNumber(n int) bool { return n >= LeastNumber && check(n) == 0 }
