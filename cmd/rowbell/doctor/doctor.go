// Package doctor finds mistakes in a set-up and says how to correct them. It also shows how a recorded request of a
// network would be answered, and asks a running service whether it is ready.
//
//	findings := doctor.Examine(ctx, doctor.Input{Env: os.Getenv, Now: now})
//	err := doctor.Print(os.Stdout, findings)
//
// A check is a method of checkup that adds findings. Each finding that is not ok says what to do. This package neither
// changes nor creates records. It connects to the gateways, but sends them no request. Findings contain no phone
// numbers and no secrets.
package doctor

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"rowbell/cmd/rowbell/config"
)

// Input is the set-up that is examined.
type Input struct {
	ConfigFile string // "" means rowbell.toml, if that file exists
	DB         string // path of the database file; "" means the path in the configuration
	Env        func(string) string
	Now        time.Time
	Offline    bool // do not connect to gateways
}

// Severity says how bad a finding is.
type Severity string

const (
	OK    Severity = "ok"
	Note  Severity = "note"  // works, but the operator should know about it
	Wrong Severity = "wrong" // does not work, or will fail when it is needed
)

// Finding is the result of one check.
type Finding struct {
	Severity Severity
	Area     string
	What     string
	Fix      string // what the operator should do; "" only if Severity is OK
}

// ErrUnwell is the error that Print returns if the severity of a finding is Wrong.
var ErrUnwell = errors.New("something is wrong with this set-up: see what to do above")

// checkup collects the findings about one set-up.
type checkup struct {
	ctx      context.Context
	env      func(string) string
	now      time.Time
	conf     config.Config
	findings []Finding
	// outdated: the records in a file are of an older version. They are not opened, because that would migrate them,
	// perhaps under a service of the older version.
	outdated bool
}

func (c *checkup) ok(area, format string, a ...any) {
	c.findings = append(c.findings, Finding{OK, area, fmt.Sprintf(format, a...), ""})
}

func (c *checkup) note(area, fix, format string, a ...any) {
	c.findings = append(c.findings, Finding{Note, area, fmt.Sprintf(format, a...), fix})
}

func (c *checkup) wrong(area, fix, format string, a ...any) {
	c.findings = append(c.findings, Finding{Wrong, area, fmt.Sprintf(format, a...), fix})
}

// Examine returns the findings of all checks. If the configuration cannot be read, that is the only finding.
func Examine(ctx context.Context, in Input) []Finding {
	c := &checkup{ctx: ctx, env: in.Env, now: in.Now.UTC()}
	var err error
	if c.conf, err = config.Load(in.ConfigFile); err != nil {
		// LoadToServe finds more mistakes, which would be the next ones to refuse a start.
		if _, all := config.LoadToServe(in.ConfigFile, in.Env); all != nil {
			err = all
		}
		c.wrong("configuration", "Mend what is named; rowbell config lists what can be set.", "%v", err)
		return c.findings
	}
	c.conf.DB = cmp.Or(in.DB, c.conf.DB)
	c.checkConfig(cmp.Or(in.ConfigFile, config.DefaultFile))
	c.checkListening()
	c.checkTexts()
	c.checkZones()
	c.checkRecords()
	c.checkDesk()
	c.checkDisk()
	c.checkBackups()
	c.checkRetention()
	c.checkClock()
	c.checkGateways(in.Offline)
	return c.findings
}

// Print writes the findings with their fixes, and counts them by severity. It returns ErrUnwell if a finding is Wrong.
func Print(w io.Writer, findings []Finding) error {
	count := map[Severity]int{}
	for _, f := range findings {
		count[f.Severity]++
		fmt.Fprintf(w, "%-6s%-15s%s\n", f.Severity, f.Area, f.What)
		if f.Fix != "" {
			fmt.Fprintf(w, "%21sDo: %s\n", "", f.Fix)
		}
	}
	fmt.Fprintf(w, "%d ok, %d to note, %d wrong\n", count[OK], count[Note], count[Wrong])
	if count[Wrong] > 0 {
		return ErrUnwell
	}
	return nil
}
