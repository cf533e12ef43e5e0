package service

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/bench"
	"rowbell/store/manygrowers"
)

// These variables set over how many growers BenchmarkGrowing runs, and in which folder: on a disk, with room for three
// times the records (3 kB a grower). The files of the growers stay there for the next run of the day. The table is also
// written to the file envTable.
const (
	envSizes  = "ROWBELL_TEST_SIZES"
	envFolder = "ROWBELL_TEST_FOLDER"
	envTable  = "ROWBELL_TEST_TABLE"
	envParts  = "ROWBELL_TEST_PARTS" // "rates", "arrivals" and "beside", or some of them
)

const (
	growingRounds = 5
	growingRound  = time.Second
	growingOpen   = 3 * time.Second // how long a round of an open loop lasts
	growingRate   = 500             // steps a second of an open loop
	growingQuiet  = 5 * time.Second // how long steps are measured before and at least beside a work
	growingMost   = 45 * time.Second
	growingDue    = 100_000 // plots that are made due
	growingPrune  = 20      // seconds for which a year is pruned
)

// BenchmarkGrowing measures the service over growing records: steps, and steps beside everything else that the service
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
		if g.part("rates") {
			g.rates()
		}
		if g.part("arrivals") {
			g.arrivals()
		}
		for i, n := range g.sizes {
			if g.part("beside") {
				g.beside(n, g.files[i])
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

// part reports whether a part of the benchmark is to be run.
func (*growing) part(name string) bool {
	parts := os.Getenv(envParts)
	return parts == "" || slices.Contains(strings.Split(parts, ","), name)
}

// build builds the program, whose commands run beside the service.
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

// arrivals measures open loops beside the router alone.
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

// work is something that runs beside the steps. It returns what it did, in words, and the memory of a command that it
// ran, in MB; 0: it ran in the service.
type work struct {
	name    string
	do      func() (did string, mb float64, err error)
	prepare func() error // nil: nothing
}

// beside measures steps beside each work, and what each work takes.
func (g *growing) beside(n int, from string) {
	p := serveOwn(g.B, "service", g.folder, from, n, g.day)
	g.line("")
	g.line("%d growers: records of %d MB, %.0f octets a grower; opened in %.1f s with %.0f MB", n,
		fileMB(g.B, p.db), 1e6*float64(fileMB(g.B, p.db))/float64(n), p.started.Seconds(), p.peakMB())
	p.OpenLoop(growingRate, growingQuiet) // warms the service up
	due := min(growingDue, n/10)
	rings := g.ring(g.B, p, 0, due)
	began, worked := time.Now(), p.processor()
	did, _, err := rings.do()
	ok(g.B, err)
	took := time.Since(began).Seconds()
	g.line("bell, quiet: %s in %.1f s, %.1f s of processor; 100,000 in less than 8 s: %s", did, took,
		p.processor()-worked, met(took*growingDue/float64(due) < 8))
	chi := serveOwn(g.B, "chi", g.folder, "", n, g.day)
	var list []measured
	var quiet []float64
	for _, w := range g.works(p, n, due) {
		m := g.besideOne(p, chi, w)
		list, quiet = append(list, m), append(quiet, m.quiet.Percentile(0.99))
		fmt.Printf("%s: p99 %.0f ms, before %.0f ms; %.1f s, %.1f s of processor, %.0f MB; %s\n", m.name,
			m.took.Percentile(0.99), m.quiet.Percentile(0.99), m.lasted.Seconds(), m.worked, m.mb, m.did)
	}
	chi.end()
	p.end()
	g.line("%d steps a second beside a work, ms; quiet p99 %s; router: p99 of the router alone at the same time",
		growingRate, span(quiet))
	g.line("%-9s  %6s %6s %7s %7s  %-18s  %-14s  %6s %6s  %-19s  %s", "work", "p50", "p99", "longest", "router",
		"of quiet p99 (<= 3)", "longest <= 250", "work s", "CPU s", "memory, MB (< 100)", "what it did")
	for _, m := range list {
		p99, longest := m.took.Percentile(0.99), m.took.Percentile(1)
		ratio := p99 / median(quiet)
		g.line("%-9s  %6.1f %6.1f %7.0f %7.1f  %-18s  %-14s  %6.1f %6.1f  %-19s  %s", m.name,
			m.took.Percentile(0.5), p99, longest, m.router.Percentile(0.99),
			fmt.Sprintf("%.1f %s", ratio, met(ratio <= 3)), met(longest <= 250),
			m.lasted.Seconds(), m.worked, fmt.Sprintf("%.0f %s", m.mb, met(m.mb < 100)), m.did)
	}
	g.restore(n)
}

// measured is a work with the steps before and beside it.
type measured struct {
	work
	quiet, took, router bench.Took
	lasted              time.Duration
	mb                  float64 // of the service, or of the command that ran
	worked              float64 // processor seconds: of the service without its steps, or of the command
	did                 string
}

func (g *growing) besideOne(p, chi *growingProcess, w work) measured {
	if w.prepare != nil {
		ok(g.B, w.prepare())
	}
	worked, answered := p.processor(), p.Answered()
	m := measured{work: w, quiet: p.OpenLoop(growingRate, growingQuiet)}
	step := (p.processor() - worked) / float64(p.Answered()-answered)
	p.forgetPeak()
	worked, answered, g.commands = p.processor(), p.Answered(), 0
	var over atomic.Bool
	var err error
	began := time.Now()
	ended, routed := make(chan time.Duration, 1), make(chan bench.Took, 1)
	go func() {
		m.did, m.mb, err = w.do()
		over.Store(true)
		ended <- time.Since(began)
	}()
	until := func(ran time.Duration) bool {
		return over.Load() && ran >= growingQuiet || ran >= growingMost
	}
	go func() { routed <- chi.OpenLoopUntil(growingRate/10, until) }()
	m.took = p.OpenLoopUntil(growingRate, until)
	m.router, m.lasted = <-routed, <-ended
	if err != nil {
		m.did = "FAILED: " + err.Error()
	}
	if n, first := p.failures(); n > 0 {
		m.did += fmt.Sprintf("; %d CALLS FAILED: %.200s", n, first.Error())
	}
	m.worked = g.commands
	if m.mb == 0 {
		m.mb = p.peakMB()
		m.worked = max(0, p.processor()-worked-step*float64(p.Answered()-answered))
	}
	return m
}

// ring makes plots due at once, and returns the work of the bell.
func (g *growing) ring(b testing.TB, p *growingProcess, group, due int) work {
	b.Helper()
	now, err := p.do("/now", nil)
	ok(b, err)
	// Due since yesterday: a plot that became due after this morning is one that its grower has just changed.
	made, err := manygrowers.MakeDue(b.Context(), p.db, group, due, now-24*60*60)
	ok(b, err)
	return work{name: "bell", do: func() (string, float64, error) {
		texts, err := p.do("/ring", nil)
		// About a plot whose grower has just logged a pass there is nothing to write.
		if err == nil && texts == 0 {
			err = fmt.Errorf("%d texts about %d due plots", texts, made)
		}
		return fmt.Sprintf("%d texts about %d due plots", texts, made), 0, err
	}}
}

// works returns the works in the order in which they are measured: what learning and an import make due is not rung.
func (g *growing) works(p *growingProcess, n, due int) []work {
	backup, csv := filepath.Join(g.folder, "growing-backup.db"), filepath.Join(g.folder, "growing.csv")
	ok(g.B, os.WriteFile(csv, []byte(g.weather()), 0o600))
	g.Cleanup(func() { removeRecords(g.B, backup); os.Remove(csv) })
	removeRecords(g.B, backup)
	return []work{
		g.ring(g.B, p, 1, due),
		{name: "metrics", do: func() (string, float64, error) {
			if _, err := p.do("/minute", nil); err != nil { // the last counts are old then
				return "", 0, err
			}
			resp, err := http.Get(p.service + "/metrics")
			if err != nil {
				return "", 0, err
			}
			return resp.Status, 0, resp.Body.Close()
		}},
		{name: "year", do: func() (string, float64, error) {
			rows, err := p.do("/prune", url.Values{"seconds": {strconv.Itoa(growingPrune)}})
			return fmt.Sprintf("%d rows of a year pruned in at most %d s", rows, growingPrune), 0, err
		}},
		{name: "first", do: func() (string, float64, error) {
			_, err := p.do("/learn", nil)
			return "all places learn for the first time", 0, err
		}},
		{name: "learning", prepare: func() error { return manygrowers.Unlearn(g.Context(), p.db) },
			do: func() (string, float64, error) {
				_, err := p.do("/learn", nil)
				return "the rate moves where half of the growers are", 0, err
			}},
		{name: "upkeep", do: func() (string, float64, error) {
			_, err := p.do("/upkeep", nil)
			return "the hourly one", 0, err
		}},
		{name: "import", do: func() (string, float64, error) {
			mb := g.command(g.B, "import", "weather", csv, "--db", p.db)
			_, err := p.do("/spread", nil)
			return "300 days where half of the growers are", mb, err
		}},
		{name: "rank", do: func() (string, float64, error) {
			return "20 of a place with half of the growers", g.command(g.B, "rank", "--limit", "20", "--db", p.db), nil
		}},
		{name: "backup", do: func() (string, float64, error) {
			octets, err := p.do("/backup", url.Values{"to": {backup}})
			return fmt.Sprintf("%d MB", octets/1e6), 0, err
		}},
	}
}

// weather is a file with other weather than that of package manygrowers.
func (g *growing) weather() string {
	var text strings.Builder
	text.WriteString("date,min_c,max_c,rain_mm\n")
	for d := g.day - 301; d < g.day-1; d++ {
		fmt.Fprintf(&text, "%s,%d,%d,%d\n", d, 21+d%3, 30+d%4, 5*(d%4))
	}
	return text.String()
}

// command runs the program and returns how much memory it had, in MB.
func (g *growing) command(b testing.TB, arguments ...string) float64 {
	b.Helper()
	cmd := exec.Command(g.binary, arguments...)
	cmd.Dir = g.folder
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Errorf("rowbell %v: %v\n%s", arguments, err, out)
	}
	g.commands += (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
	return float64(cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss) / 1000
}

// restore compares a restore of the backup of the works with a copy.
func (g *growing) restore(n int) {
	backup, to := filepath.Join(g.folder, "growing-backup.db"), filepath.Join(g.folder, "restored.db")
	var copies, restores []float64
	var mb float64
	for range 3 {
		removeRecords(g.B, to)
		began := time.Now()
		ok(g.B, manygrowers.CopyFile(backup, to))
		copies = append(copies, time.Since(began).Seconds())
		removeRecords(g.B, to)
		began = time.Now()
		mb = g.command(g.B, "restore", "--from", backup, "--db", to)
		restores = append(restores, time.Since(began).Seconds())
	}
	removeRecords(g.B, to)
	ratio := median(restores) / median(copies)
	g.line("restore over %d growers: %.1f s, a copy with fsync %.1f s, ratio %.1f (<= 1.5) %s; memory %.0f MB %s", n,
		median(restores), median(copies), ratio, met(ratio <= 1.5), mb, met(mb < 100))
	removeRecords(g.B, backup)
}

func fileMB(b testing.TB, path string) int64 {
	b.Helper()
	info, err := os.Stat(path)
	ok(b, err)
	return info.Size() / 1e6
}
