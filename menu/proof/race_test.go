//go:build race

package proof_test

func init() { raced = true }
