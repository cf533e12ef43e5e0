package season

import (
	"fmt"
	"time"

	"rowbell/cmd/rowbell-load/stack"
)

// Options say what is played.
type Options struct {
	Growers int
	Days    int
	Seed    uint64
	Program string // path of rowbell
	Folder  string // for the records, the configuration and the log; it must exist

	Now func() time.Time // the clock of the machine, for what takes time
	// Step is called after each day, and each grower whose season was told again; nil: it is not.
	Step func(what string, done, total int)
}

const (
	zoneName    = "Asia/Bangkok" // an hour of its own, without summer time
	morningHour = 7              // of the configuration that package stack writes
	joinDays    = 21             // growers register during so many days
	callers     = 16             // calls at once

	// maxGrowers is how many phones package stack has.
	maxGrowers = 1_000_000
)

// start is noon of the day before the first day.
var start = time.Date(2027, time.May, 31, 12, 0, 0, 0, time.UTC)

func (o Options) check() error {
	if o.Growers < 1 || o.Growers > maxGrowers {
		return fmt.Errorf("--growers must be between 1 and %d", maxGrowers)
	}
	if o.Days < 1 || o.Days > 366 {
		return fmt.Errorf("--days must be between 1 and 366")
	}
	return nil
}

func (o Options) stack() stack.Options {
	return stack.Options{Program: o.Program, Folder: o.Folder, TestClock: start, Zone: zoneName}
}
