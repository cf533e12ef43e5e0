// Package seeded tests the whole service in one process: growers, networks, the clock and the disk do in each step what
// a seed draws, and after each step what rowbell promises must hold. It has only tests.
//
// The networks delay, repeat, reorder, forge and lose. The records fail at any commit, or the process ends there and
// starts again. One goroutine does all steps, so a seed always gives the same season. A season that fails is made
// smaller and kept by rapid (.ci/explore):
//
//	go test ./cmd/rowbell/seeded                              # the same seasons in each run
//	go test ./cmd/rowbell/seeded -rapid.checks=1000 -rapid.seed=7
package seeded
