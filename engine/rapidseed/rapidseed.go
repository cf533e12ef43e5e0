// Package rapidseed makes property tests repeatable. A test package that uses pgregory.net/rapid imports rapidseed for
// its side effect, in a separate file:
//
//	import _ "rowbell/engine/rapidseed"
//
// Every run then draws the same random values, so no test fails by chance. The script .ci/explore sets RAPID_SEED to
// try new values. Values that make a test fail are stored below testdata/rapid of the package, and every later run
// tries them first.
//
// Only tests may import this package.
package rapidseed

import (
	"flag"
	"strconv"

	_ "pgregory.net/rapid" // rapid registers its flags before the init function of this package runs
)

// Seed is the seed of the random values if the environment has no RAPID_SEED. Any value but 0 would do: with 0, rapid
// chooses a new seed for each run.
const Seed = 1

// init sets flags of rapid. It runs before the command line is parsed, so -rapid.seed there still replaces Seed. rapid
// takes the defaults of its flags from the environment, so the default shows whether RAPID_SEED is set.
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
