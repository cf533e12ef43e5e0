//go:build !race

package browser

const raced = false
