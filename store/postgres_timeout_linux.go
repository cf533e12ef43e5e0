package store

import (
	"syscall"
	"time"
)

// tcpUserTimeout is the option TCP_USER_TIMEOUT (Linux, include/uapi/linux/tcp.h), which package syscall lacks.
const tcpUserTimeout = 18

// boundUnacknowledged makes a connection end if what was sent on it is not acknowledged for so long. Keepalive does not
// help then: it begins when nothing is on its way. Without the bound, a request to a machine that has lost its power
// waits for about a quarter of an hour.
func boundUnacknowledged(c syscall.RawConn, limit time.Duration) (err error) {
	failed := c.Control(func(fd uintptr) {
		err = syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, tcpUserTimeout, int(limit.Milliseconds()))
	})
	if failed != nil {
		return failed
	}
	return err
}
