package service

import (
	"runtime"
	"testing"
)

func TestOneMoreAtOnce(t *testing.T) {
	was := runtime.GOMAXPROCS(0)
	t.Cleanup(func() { runtime.GOMAXPROCS(was) })
	for _, tt := range []struct {
		env  string
		want int
	}{{"", processors + 1}, {"7", was}} {
		runtime.GOMAXPROCS(was)
		for range 2 { // a program may serve more than once
			oneMoreAtOnce(func(name string) string {
				if name != "GOMAXPROCS" {
					t.Errorf("asks for %s", name)
				}
				return tt.env
			})
		}
		if got := runtime.GOMAXPROCS(0); got != tt.want {
			t.Errorf("GOMAXPROCS=%q: %d at once, want %d", tt.env, got, tt.want)
		}
	}
}
