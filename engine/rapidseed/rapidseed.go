// Package rapidseed makes property tests repeatable. A test package that uses pgregory.net/rapid imports rapidseed for
// its side effect, in a separate file:
//
//	import _ "rowbell/engine/rapidseed"
//
// Every run then draws the same random values. Otherwise a test could fail by chance after a change that has nothing to
// do with the test. The script .ci/explore sets RAPID_SEED to try new values. Values that make a test fail are saved as
// a file below testdata/rapid of the package. Every later run of the test tries these saved values first.
//
// Only tests may import this package.
package rapidseed

import (
	"flag"
	"strconv"

	_ "pgregory.net/rapid" // rapid registers its flags before the init function of this package runs
)

// Seed is the seed of a run in which RAPID_SEED is not set. The value does not matter, but 0 would mean a random seed.
const Seed = 1

// init runs before the flags are parsed, so -rapid.seed on the command line still replaces the value set here. rapid
// takes the defaults of its flags from the environment.
func init() {
	seed := flag.Lookup("rapid.seed")
	if seed.DefValue != "0" {
		return // RAPID_SEED is set in the environment: keep that seed
	}
	set := func(name, value string) {
		if err := flag.Set(name, value); err != nil {
			panic(err) // this version of rapid no longer has the flag
		}
	}
	set(seed.Name, strconv.Itoa(Seed))
	set("rapid.nofailfile", "true") // a fixed seed repeats the failure, so no file is needed
}
