package service

import (
	"runtime"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
)

func TestOneMoreAtOnce(t *testing.T) {
	was := runtime.GOMAXPROCS(0)
	t.Cleanup(func() { runtime.GOMAXPROCS(was) })
	for _, tt := range []struct {
		env  string
		want int
	}{{"", processors + 1}, {"7", processors}} {
		runtime.GOMAXPROCS(processors)
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
	runtime.GOMAXPROCS(processors)
	serve(t, configtest.Fresh(t, ""))
	if got := runtime.GOMAXPROCS(0); got != processors+1 {
		t.Errorf("while it serves %d at once, want %d", got, processors+1)
	}
}
