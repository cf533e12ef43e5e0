//go:build !cgo

package store

// SQLite is written in C. If there is no C compiler, Go builds without cgo. Then the undefined name below stops
// the build, and the name tells the reason.
const _ = rowbell_needs_a_C_compiler // install gcc, or set CGO_ENABLED=1
