package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"rowbell/store"
)

// version is set by whoever builds a release: -ldflags "-X main.version=1.2.3".
var version string

// buildVersion is the version of this program: what was set, or what Go noted
// of the sources it was built from.
func buildVersion() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "unknown"
}

// versionLine is what rowbell --version prints.
func versionLine() string {
	return fmt.Sprintf("rowbell %s, %s, SQLite %s", buildVersion(), runtime.Version(), store.SQLite())
}
