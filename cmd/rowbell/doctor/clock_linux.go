package doctor

import "syscall"

// clockUnset reports whether no time service sets the clock (flag STA_UNSYNC of adjtimex(2)).
func clockUnset() bool {
	var t syscall.Timex
	const unsync = 0x0040
	_, err := syscall.Adjtimex(&t)
	return err == nil && t.Status&unsync != 0
}
