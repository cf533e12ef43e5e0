//go:build !linux

package doctor

// clockUnset always returns false here, because only Linux has adjtimex(2).
func clockUnset() bool { return false }
