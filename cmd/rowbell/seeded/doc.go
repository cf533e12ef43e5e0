// Package seeded tests the whole service in one process: growers, networks, the clock and the disk do in each step what
// a seed draws, and after each step what rowbell promises must hold. It has only tests.
//
// The networks delay, repeat, reorder, forge and lose. Growers share tools and change their turns. The clock of the
// machine is set wrong and right again. The records fail at any commit, or the process ends there and starts again. One
// goroutine does all steps, so a seed always gives the same season. A season that fails is made smaller and kept by
// rapid (.ci/explore):
//
//	go test ./cmd/rowbell/seeded                              # the same seasons in each run
//	go test ./cmd/rowbell/seeded -rapid.checks=1000 -rapid.seed=7
//	.ci/postgres go test ./cmd/rowbell/seeded -rapid.checks=5 # with the records on a server
//
// 100,000 seasons, a process on each core, each with seeds of its own; what fails stands in the output:
//
//	export CGO_CFLAGS='-O2 -DSQLITE_DEFAULT_MEMSTATUS=0 -DSQLITE_DEFAULT_LOOKASIDE=1200,500' # a tenth faster
//	go test -c -o /tmp/seeded.test ./cmd/rowbell/seeded && cd cmd/rowbell/seeded
//	seq $(nproc) | xargs -P 0 -I {} /tmp/seeded.test -rapid.checks=$((100000 / $(nproc))) -rapid.seed={}000000000000
package seeded
