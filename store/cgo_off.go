//go:build !cgo

package store

// SQLite is C, and without a C compiler Go leaves C out. This name is defined
// nowhere: the build stops here and says what is missing.
const _ = rowbell_needs_a_C_compiler // install gcc, or set CGO_ENABLED=1
