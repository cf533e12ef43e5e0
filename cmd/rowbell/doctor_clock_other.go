//go:build !linux

package main

// clockUnset: only Linux is asked.
func clockUnset() bool { return false }
