package service

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store/manygrowers"
)

// These variables set over how many growers BenchmarkGrowing runs, and in which folder: on a disk, with room for three
// times the records (3 kB a grower). The files of the growers stay there for the next run of the day. The table is also
// written to the file envTable.
const (
	envSizes  = "ROWBELL_TEST_SIZES"
	envFolder = "ROWBELL_TEST_FOLDER"
	envTable  = "ROWBELL_TEST_TABLE"
	envServer = "ROWBELL_TEST_SERVER" // an empty database on a server, to which the records are copied; for one size
	envParts  = "ROWBELL_TEST_PARTS"  // "rates", "arrivals", "during" and "desk", or some of them
	envWorks  = "ROWBELL_TEST_WORKS"  // names of works of "during", or some of them
)

const (
	growingRounds = 5
	// growingRound is how long a round of a closed loop lasts, after a quarter of it that is not measured. The first
	// seconds of a process are not typical: with rounds of a second the ratio at 1,000 growers was 0.61 and not 0.71.
	growingRound  = 4 * time.Second
	growingOpen   = 3 * time.Second  // how long a round of an open loop lasts
	growingRate   = 500              // steps a second of an open loop
	growingAlone  = 5 * time.Second  // how long steps are measured before a work, and at least during it
	growingMost   = 45 * time.Second // how long steps are measured at most during a work
	growingDue    = 100_000          // plots that are made due
	growingPruneS = 20               // seconds for which a year is pruned
)

// BenchmarkGrowing measures the service over growing records: steps, and steps during everything else that the service
// and its commands do. It prints one table with the targets. Other load on the machine changes each figure, but less
// the ratios: what is compared runs in turn, round by round, and the median of the rounds counts.
//
//	go test ./cmd/rowbell/service -run xxx -bench Growing -benchtime 1x -timeout 2h
//	ROWBELL_TEST_SIZES=1000,20000,200000,1000000 ROWBELL_TEST_FOLDER=/var/tmp go test ...
func BenchmarkGrowing(b *testing.B) {
	g := &growing{B: b, folder: os.Getenv(envFolder), day: engine.DayOf(time.Now(), time.UTC)}
	if g.folder == "" {
		g.folder = b.TempDir()
	}
	sizes := os.Getenv(envSizes)
	if sizes == "" {
		sizes = "1000,20000"
	}
	for text := range strings.SplitSeq(sizes, ",") {
		n, err := strconv.Atoi(text)
		ok(b, err)
		g.sizes = append(g.sizes, n)
	}
	for _, n := range g.sizes {
		path, err := manygrowers.File(b.Context(), g.folder, n, g.day)
		ok(b, err)
		g.files = append(g.files, path)
	}
	g.build()
	for b.Loop() {
		g.table = nil
		g.line("over %s growers, load of the machine %s", sizes, loadAverage(b))
		if chosen(envParts, "rates") {
			g.rates()
		}
		if chosen(envParts, "arrivals") {
			g.arrivals()
		}
		for i, n := range g.sizes {
			if chosen(envParts, "during") {
				g.during(n, g.files[i])
			}
			if chosen(envParts, "desk") {
				g.desk(n, g.files[i])
			}
		}
		g.line("at the end: load of the machine %s", loadAverage(b))
	}
	b.ReportMetric(0, "ns/op")
	text := strings.Join(g.table, "\n") + "\n"
	fmt.Print(text)
	if file := os.Getenv(envTable); file != "" {
		ok(b, os.WriteFile(file, []byte(text), 0o600))
	}
}

// growing is one run of BenchmarkGrowing.
type growing struct {
	*testing.B
	folder string
	day    engine.Day
	sizes  []int
	files  []string // the records of each size
	binary string   // path of the program rowbell
	table  []string

	commands float64 // processor seconds of the commands of a work
}

// chosen reports whether a variable is not set or names this among others.
func chosen(env, name string) bool {
	names := os.Getenv(env)
	return names == "" || slices.Contains(strings.Split(names, ","), name)
}

// build builds the program, whose commands run while the service runs.
func (g *growing) build() {
	g.binary = filepath.Join(g.folder, "rowbell-growing")
	out, err := exec.Command("go", "build", "-o", g.binary, "rowbell/cmd/rowbell").CombinedOutput()
	if err != nil {
		g.Fatalf("%v\n%s", err, out)
	}
	g.Cleanup(func() { os.Remove(g.binary) })
}

func (g *growing) line(format string, a ...any) {
	g.table = append(g.table, fmt.Sprintf(format, a...))
	fmt.Println(g.table[len(g.table)-1])
}

// met says whether a figure meets its target.
func met(yes bool) string {
	if yes {
		return "met"
	}
	return "NOT MET"
}

func loadAverage(b testing.TB) string {
	b.Helper()
	text, err := os.ReadFile("/proc/loadavg")
	ok(b, err)
	return strings.Join(strings.Fields(string(text))[:2], " ")
}

func median(list []float64) float64 {
	list = slices.Sorted(slices.Values(list))
	if len(list) == 0 {
		return 0
	}
	return list[len(list)/2]
}

// span writes a median with the least and the greatest value.
func span(list []float64) string {
	return fmt.Sprintf("%.2f [%.2f-%.2f]", median(list), slices.Min(list), slices.Max(list))
}

// smallest is the number of growers up to which each round has fresh records: there the same growers call again and
// again, so that their records grow as no grower's do.
const smallest = 20_000

// serve starts a server over the records of size i, and runs some steps, so that nothing happens for the first time.
func (g *growing) serve(kind string, i int) *growingProcess {
	p := serveOwn(g.B, kind, g.folder, g.files[i], g.sizes[i], g.day)
	p.ClosedLoop(growingRound / 4)
	return p
}

// inTurn calls do with the service and the bare handler of each size, round by round.
func (g *growing) inTurn(do func(name string, i int, p *growingProcess), kinds ...string) {
	kept := map[string]*growingProcess{}
	for range growingRounds {
		for i, n := range g.sizes {
			for _, kind := range kinds {
				name := fmt.Sprint(kind, n)
				p := kept[name]
				if p == nil {
					p = g.serve(kind, i)
				}
				do(kind, i, p)
				if n <= smallest {
					p.end()
				} else {
					kept[name] = p
				}
			}
		}
	}
	for _, p := range kept {
		p.end()
	}
}

// rates measures closed loops: as many steps as go.
func (g *growing) rates() {
	type figures struct {
		ours, bare, ratio, slower, work, bareWork []float64
		octets                                    float64
	}
	bySize := make([]figures, len(g.sizes))
	var first float64 // rate of the round over the fewest growers
	g.inTurn(func(kind string, i int, p *growingProcess) {
		worked, answered := p.processor(), p.Answered()
		rate := p.ClosedLoop(growingRound).Rate
		steps := float64(p.Answered() - answered)
		work := 1e6 * (p.processor() - worked) / steps
		f := &bySize[i]
		if kind == "records" {
			f.bare, f.bareWork = append(f.bare, rate), append(f.bareWork, work)
			f.ratio = append(f.ratio, f.ours[len(f.ours)-1]/rate)
			return
		}
		if i == 0 {
			first = rate
		}
		f.ours, f.slower, f.work = append(f.ours, rate), append(f.slower, rate/first), append(f.work, work)
		// Since the server began: the log is copied into the file from time to time, also between the rounds.
		f.octets = p.written() / float64(p.Answered()) / 1000
	}, "service", "records")
	g.line("")
	g.line("closed loop, 64 connections: median of %d rounds [least-greatest]", growingRounds)
	g.line("%9s  %8s  %8s  %-28s  %-28s  %-33s  %s", "growers", "steps/s", "bare/s", "of the bare handler (0.75)",
		fmt.Sprintf("of the rate at %d (0.85)", g.sizes[0]), "processor us a step, bare: of bare", "kB to disk a step")
	for i, f := range bySize {
		g.line("%9d  %8.0f  %8.0f  %-28s  %-28s  %-33s  %.1f", g.sizes[i], median(f.ours), median(f.bare),
			span(f.ratio)+" "+met(median(f.ratio) >= 0.75), span(f.slower)+" "+met(median(f.slower) >= 0.85),
			fmt.Sprintf("%.0f, %.0f: %.2f", median(f.work), median(f.bareWork), median(f.bareWork)/median(f.work)),
			f.octets)
	}
}

// arrivals measures open loops, and compares them with those of the router alone.
func (g *growing) arrivals() {
	type figures struct{ p50, p99, most, ratio []float64 }
	bySize := make([]figures, len(g.sizes))
	chi := serveOwn(g.B, "chi", g.folder, "", g.sizes[0], g.day)
	g.inTurn(func(_ string, i int, p *growingProcess) {
		ours, bare := p.OpenLoop(growingRate, growingOpen), chi.OpenLoop(growingRate, growingOpen)
		f := &bySize[i]
		f.p50, f.p99 = append(f.p50, ours.Percentile(0.5)), append(f.p99, ours.Percentile(0.99))
		f.most = append(f.most, ours.Percentile(1))
		f.ratio = append(f.ratio, ours.Percentile(0.99)/bare.Percentile(0.99))
	}, "service")
	chi.end()
	g.line("")
	g.line("%d steps a second at random instants, ms: median of %d rounds", growingRate, growingRounds)
	g.line("%9s  %7s  %7s  %7s  %s", "growers", "p50", "p99", "longest", "p99 of the router alone (<= 4)")
	for i, f := range bySize {
		g.line("%9d  %7.1f  %7.1f  %7.1f  %s", g.sizes[i], median(f.p50), median(f.p99), median(f.most),
			span(f.ratio)+" "+met(median(f.ratio) <= 4))
	}
}
