//go:build race

package proof_test

const raced = true
