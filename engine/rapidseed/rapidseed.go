// Package rapidseed makes property tests repeatable. A test package that uses
// pgregory.net/rapid imports it for its effect, in a file of its own:
//
//	import _ "rowbell/engine/rapidseed"
//
// Every run then draws the same values, so that a test cannot fail by chance in a change that has nothing to do with
// it. New values are tried by .ci/explore, which sets RAPID_SEED. What it finds is kept as a file below
// testdata/rapid of the package; rapid runs those cases first.
//
// Nothing that is not a test may import this package.
package rapidseed

import (
	"flag"
	"strconv"

	_ "pgregory.net/rapid" // registers the flags, before this package's init
)

// Seed is the seed of an ordinary run. Any number but 0 would do.
const Seed = 1

// init runs before the flags are parsed: -rapid.seed on the command line
// still wins. rapid takes the default of its flags from the environment.
func init() {
	seed := flag.Lookup("rapid.seed")
	if seed.DefValue != "0" {
		return // RAPID_SEED is set
	}
	set := func(name, value string) {
		if err := flag.Set(name, value); err != nil {
			panic(err) // rapid no longer has this flag
		}
	}
	set(seed.Name, strconv.Itoa(Seed))
	set("rapid.nofailfile", "true") // the seed is enough to repeat it
}
