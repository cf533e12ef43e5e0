//go:build race

package menu

const raced = true
