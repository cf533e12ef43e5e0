package seeded

import (
	"flag"
	"runtime"
	"runtime/debug"
	"slices"
	"testing"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // every run draws the same seasons
)

// seasons is how many seasons a plain run of the tests has. The environment or the command line may ask for more.
const seasons = "25"

func init() {
	// A season has one goroutine at a time, so a second processor only costs. It leaves little garbage.
	runtime.GOMAXPROCS(1)
	debug.SetGCPercent(-1)
	debug.SetMemoryLimit(200 << 20)
	if f := flag.Lookup("rapid.checks"); f.DefValue == "100" {
		_ = f.Value.Set(seasons)
	}
}

// steps is how many steps a season has: about three weeks.
const steps = 60

// stepsOf are what may happen in a step; what stands here more often happens more often.
var stepsOf = []struct {
	name   string
	weight int
	do     func(*world)
}{
	{"time passes", 9, (*world).timePasses},
	{"a grower calls", 6, (*world).growerCalls},
	{"a grower texts", 3, (*world).growerTexts},
	{"a member calls", 3, (*world).memberCalls},
	{"a call fails", 2, (*world).callFails},
	{"the bell fails", 1, (*world).bellFails},
	{"sending fails", 2, (*world).sendingFails},
	{"a network repeats", 2, (*world).networkRepeats},
	{"a network forges", 1, (*world).networkForges},
	{"networks report", 3, (*world).networkReports},
	{"a network changes", 2, (*world).networkChanges},
	{"the service restarts", 1, (*world).serviceRestarts},
	{"the clock is set", 1, (*world).clockIsSet},
	{"the operator holds", 1, (*world).operatorHolds},
}

// What rowbell promises holds in a season with all these faults: what was acknowledged is stored once; texts keep to
// their limits and to STOP, go out while they are true, once, and are charged as they went.
func TestSeasonFromASeed(t *testing.T) {
	k := newKit(t)
	var names []string
	do := map[string]func(*world){}
	for _, s := range stepsOf {
		do[s.name] = s.do
		names = append(names, slices.Repeat([]string{s.name}, s.weight)...)
	}
	all := counts{}
	rapid.Check(t, func(rt *rapid.T) {
		w := newWorld(rt, k)
		defer w.close()
		for range steps {
			do[rapid.SampledFrom(names).Draw(rt, "step")](w)
			w.check()
		}
		w.end()
		all.add(w.seen)
	})
	t.Log(all)
	if flag.Lookup("rapid.checks").Value.String() == seasons && !t.Failed() {
		all.enough(t)
	}
}
