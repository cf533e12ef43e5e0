package service

import "runtime"

// processors is how many goroutines Go runs at the same time by itself: as many as the program may use processors.
var processors = runtime.GOMAXPROCS(0)

// oneMoreAtOnce has Go run one more goroutine at the same time than there are processors, unless GOMAXPROCS says how
// many. The writer of a file is nearly always in SQLite or waits for the disk. When it comes back, Go would have it
// wait for the end of another's turn, up to 10 ms if the bell plans or places learn, and all callbacks wait with it.
// With one more, the system shares the processors among them at once: during the bell the slowest of 100 callbacks took
// 14 ms, not 22 (measured).
func oneMoreAtOnce(env func(string) string) {
	if env("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(processors + 1)
	}
}
