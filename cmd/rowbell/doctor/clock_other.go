//go:build !linux

package doctor

// clockUnset returns false, because only Linux has adjtimex(2).
func clockUnset() bool { return false }
