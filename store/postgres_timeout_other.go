//go:build !linux

package store

import (
	"syscall"
	"time"
)

// boundUnacknowledged does nothing, because only Linux is known to have the option.
func boundUnacknowledged(syscall.RawConn, time.Duration) error { return nil }
