package store

import "testing"

func TestMemoryOfTheCLibraryIsShared(t *testing.T) {
	errorIf(t, !memoryIsShared, "the C library refuses to keep the memory of all threads in one place")
}
