package text

import "testing"

// BenchmarkDefault is what every start of the program waits for.
func BenchmarkDefault(b *testing.B) {
	for b.Loop() {
		if _, err := Default(); err != nil {
			b.Fatal(err)
		}
	}
}
