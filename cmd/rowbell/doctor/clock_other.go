//go:build !linux

package doctor

// clockUnset is false, because only Linux has adjtimex(2).
func clockUnset() bool { return false }
