package main

import "syscall"

// clockUnset reports that the kernel knows of nothing that keeps its clock
// right: STA_UNSYNC, adjtimex(2).
func clockUnset() bool {
	var t syscall.Timex
	const unsync = 0x0040
	_, err := syscall.Adjtimex(&t)
	return err == nil && t.Status&unsync != 0
}
