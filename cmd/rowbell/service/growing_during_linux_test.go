package service

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"rowbell/gateway/bench"
	"rowbell/store/manygrowers"
)

// work is something that runs while steps are measured. It returns what it did, in words, and the memory of a command
// that it ran, in MB; 0: it ran in the service.
type work struct {
	name    string
	do      func() (did string, mb float64, err error)
	prepare func() error // nil: nothing
}

// during measures steps during each work, and what each work takes.
func (g *growing) during(n int, from string) {
	p := serveOwn(g.B, "service", g.folder, from, n, g.day)
	g.line("")
	g.line("%d growers: records of %d MB, %.0f octets a grower; opened in %.1f s with %.0f MB", n,
		fileMB(g.B, p.db), 1e6*float64(fileMB(g.B, p.db))/float64(n), p.started.Seconds(), p.peakMB())
	p.OpenLoop(growingRate, growingAlone) // warms the service up
	due := min(growingDue, n/10)
	rings := g.ring(g.B, p, 0, due)
	began, worked := time.Now(), p.processor()
	did, _, err := rings.do()
	ok(g.B, err)
	took := time.Since(began).Seconds()
	g.line("bell alone: %s in %.1f s, %.1f s of processor; 100,000 in less than 8 s: %s", did, took,
		p.processor()-worked, met(took*growingDue/float64(due) < 8))
	chi := serveOwn(g.B, "chi", g.folder, "", n, g.day)
	var list []measured
	var alone []float64
	for _, w := range g.works(p, n, due) {
		if !chosen(envWorks, w.name) {
			continue
		}
		m := g.duringOne(p, chi, w)
		list, alone = append(list, m), append(alone, m.alone.Percentile(0.99))
		fmt.Printf("%s: p99 %.0f ms, before %.0f ms; %.1f s, %.1f s of processor, %.0f MB; %s\n", m.name,
			m.took.Percentile(0.99), m.alone.Percentile(0.99), m.lasted.Seconds(), m.worked, m.mb, m.did)
	}
	chi.end()
	p.end()
	g.line("%d steps a second during a work, ms; p99 without one %s; router: p99 of the router alone at the same time",
		growingRate, span(alone))
	g.line("%-9s  %6s %6s %7s %7s  %-18s  %-14s  %6s %6s  %-19s  %s", "work", "p50", "p99", "longest", "router",
		"p99/alone (<= 3)", "longest <= 250", "work s", "CPU s", "memory, MB (< 100)", "what it did")
	for _, m := range list {
		p99, longest := m.took.Percentile(0.99), m.took.Percentile(1)
		ratio := p99 / median(alone)
		g.line("%-9s  %6.1f %6.1f %7.0f %7.1f  %-18s  %-14s  %6.1f %6.1f  %-19s  %s", m.name,
			m.took.Percentile(0.5), p99, longest, m.router.Percentile(0.99),
			fmt.Sprintf("%.1f %s", ratio, met(ratio <= 3)), met(longest <= 250),
			m.lasted.Seconds(), m.worked, fmt.Sprintf("%.0f %s", m.mb, met(m.mb < 100)), m.did)
	}
}

// measured is a work with the steps before and during it.
type measured struct {
	work
	alone, took, router bench.Took
	lasted              time.Duration
	mb                  float64 // of the service, or of the command that ran
	worked              float64 // processor seconds: of the service without its steps, or of the command
	did                 string
}

func (g *growing) duringOne(p, chi *growingProcess, w work) measured {
	if w.prepare != nil {
		ok(g.B, w.prepare())
	}
	worked, answered := p.processor(), p.Answered()
	m := measured{work: w, alone: p.OpenLoop(growingRate, growingAlone)}
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
		return over.Load() && ran >= growingAlone || ran >= growingMost
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
			rows, err := p.do("/prune", url.Values{"seconds": {strconv.Itoa(growingPruneS)}})
			return fmt.Sprintf("%d rows of a year pruned in at most %d s", rows, growingPruneS), 0, err
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
		{name: "report", do: func() (string, float64, error) {
			rows, err := p.do("/report", nil)
			return fmt.Sprintf("the sums of %d plots and texts", rows), 0, err
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
		{name: "morning", do: func() (string, float64, error) {
			return "20 of all growers", g.command(g.B, "morning", "--limit", "20", "--db", p.db), nil
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
	text, err := json.Marshal(growingRole{Kind: "command", Command: append([]string{g.binary}, arguments...)})
	ok(b, err)
	cmd := exec.Command(os.Args[0])
	cmd.Dir, cmd.Env = g.folder, append(os.Environ(), envGrowing+"="+string(text))
	var printed bytes.Buffer
	cmd.Stderr = &printed
	out, err := cmd.Output()
	var took growingCommand
	if err != nil || json.Unmarshal(out, &took) != nil {
		b.Errorf("rowbell %v: %v\n%s", arguments, err, printed.Bytes())
	}
	g.commands += took.Processor
	return took.MB
}

// growingCommand is what a command needed.
type growingCommand struct {
	MB        float64
	Processor float64 // seconds
}

// runGrowing runs a command and prints what it needed. The memory that the system reports of a command is at least that
// of the process that started it (seen on Linux 6.18). So a small process starts the command, not that of the callers.
func runGrowing(command []string) error {
	cmd := exec.Command(command[0], command[1:]...)
	cmd.Stdout, cmd.Stderr = os.Stderr, os.Stderr
	if err := cmd.Run(); err != nil {
		return err
	}
	used := cmd.ProcessState
	return json.NewEncoder(os.Stdout).Encode(growingCommand{
		MB:        float64(used.SysUsage().(*syscall.Rusage).Maxrss) / 1000,
		Processor: (used.UserTime() + used.SystemTime()).Seconds(),
	})
}

func fileMB(b testing.TB, path string) int64 {
	b.Helper()
	info, err := os.Stat(path)
	ok(b, err)
	return info.Size() / 1e6
}
