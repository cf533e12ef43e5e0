//go:build !cgo

package store

// SQLite is C, and without a C compiler Go excludes cgo. This undefined name stops the build with a
// hint.
const _ = rowbell_needs_a_C_compiler // install gcc, or set CGO_ENABLED=1
