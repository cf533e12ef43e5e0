package store

import (
	"net"
	"syscall"
	"testing"
)

// A connection to a server ends if the server's machine is gone, also while a request is on its way. Whether the kernel
// has the option is asked of the kernel; what the option does is in tcp(7).
func TestUnacknowledgedIsBounded(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	defer l.Close()
	conf, _, err := parseAddress("postgres://a:b@" + l.Addr().String() + "/c")
	ok(t, err)
	conn, err := conf.DialFunc(ctx, "tcp", l.Addr().String())
	ok(t, err)
	defer conn.Close()
	raw, err := conn.(*net.TCPConn).SyscallConn()
	ok(t, err)
	value := 0
	ok(t, raw.Control(func(fd uintptr) {
		value, err = syscall.GetsockoptInt(int(fd), syscall.IPPROTO_TCP, tcpUserTimeout)
	}))
	ok(t, err)
	equal(t, value, 25_000, "milliseconds")
}
