package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// Process is a running service. Several may share the records on a server.
type Process struct {
	Name    string
	Version string // of the program
	Schema  int64  // newest schema that the program knows
	Alive   bool   // false if it was not renewed for ProcessLength
	Reload  ReloadDone
}

// ProcessLength is for how long a process counts as running after it was last renewed: see RenewProcess.
const ProcessLength = time.Minute

// processRetention is how long the row of a process that died is kept, in seconds.
const processRetention = 7 * secondsADay

// ErrNameTaken means that a process with the same name was started later.
var ErrNameTaken = errors.New("store: another process was started with the same name")

const (
	sqlStartProcess = `INSERT INTO process (name, number, until, version, schema) VALUES ($1, 1, $2, $3, $4)
	ON CONFLICT (name) DO UPDATE SET number = process.number + 1, until = excluded.until,
		version = excluded.version, schema = excluded.schema, reload = '{}'
	RETURNING number`
	sqlDropProcesses = `DELETE FROM process WHERE until < $1`
	sqlRenewProcess  = `UPDATE process SET until = $1 WHERE name = $2 AND number = $3`
	sqlEndProcess    = `DELETE FROM process WHERE name = $1 AND number = $2`
	sqlProcesses     = `SELECT name, version, schema, until, reload FROM process ORDER BY name`
	sqlSetReload     = `UPDATE process SET reload = $1 WHERE name = $2 AND number = $3`
)

// StartProcess records that this process (Options.Process) runs with these records, and returns the number of the
// start. It deletes the rows of processes that died long ago. In a file it deletes all others, because only one service
// can have the file open.
func (tx *Tx) StartProcess(version string, now int64) (number int64, err error) {
	old, schema := int64(math.MaxInt64), Schema()
	if tx.pg != nil {
		if now, err = tx.clock(now); err == nil {
			err = tx.checkSchema()
		}
		if err != nil {
			return 0, fail("start", err)
		}
		old, schema = now-processRetention, tx.s.server.schema.newest()
	}
	if err := tx.do(sqlDropProcesses, old); err != nil {
		return 0, fail("start", err)
	}
	_, err = tx.one(sqlStartProcess, args(tx.s.process, now+seconds(ProcessLength), version, schema), &number)
	if err == nil {
		err = tx.findShare(now)
	}
	return number, fail("start", err)
}

// RenewProcess records that this process still runs, and returns the time on the clock of the database server. It
// returns ErrNameTaken if a process with the same name was started later, and ErrNewer or ErrMoved if this process must
// not work with the records any more: a newer version has migrated them, or they were moved while it was suspended.
func (tx *Tx) RenewProcess(number, now int64) (serverTime int64, err error) {
	if serverTime, err = tx.clock(now); err == nil {
		err = tx.checkSchema()
	}
	if err == nil && tx.pg != nil {
		err = tx.checkMarks(Options{})
	}
	if err != nil {
		return 0, fail("process", err)
	}
	n, err := tx.exec(sqlRenewProcess, serverTime+seconds(ProcessLength), tx.s.process, number)
	if err == nil && n == 0 {
		err = ErrNameTaken
	}
	if err == nil {
		err = tx.findShare(serverTime)
	}
	return serverTime, fail("process", err)
}

// EndProcess records that this process has ended.
func (tx *Tx) EndProcess(number int64) error {
	return fail("process", tx.do(sqlEndProcess, tx.s.process, number))
}

// share is the part of the due growers with which this process begins: those whose id modulo of is number. Here of is
// the number of processes that run.
type share struct{ number, of int }

// findShare finds out the share of this process among those that run at an instant on the clock of the database server.
func (tx *Tx) findShare(serverTime int64) error {
	if tx.pg == nil {
		return nil
	}
	list, err := tx.processesAt(serverTime)
	list = slices.DeleteFunc(list, func(p Process) bool { return !p.Alive })
	i := slices.IndexFunc(list, func(p Process) bool { return p.Name == tx.s.process })
	if err == nil && i >= 0 {
		tx.s.share.Store(&share{i, len(list)})
	}
	return err
}

// Processes lists the services that use these records, and those that died within processRetention.
func (tx *Tx) Processes(now int64) (list []Process, err error) {
	if now, err = tx.clock(now); err != nil {
		return nil, fail("processes", err)
	}
	list, err = tx.processesAt(now)
	return list, fail("processes", err)
}

// processesAt is Processes at an instant on the clock of the database server.
func (tx *Tx) processesAt(serverTime int64) (list []Process, err error) {
	err = tx.each(sqlProcesses, nil, func(scan func(...any) error) error {
		var p Process
		var until int64
		var reload string
		if err := scan(&p.Name, &p.Version, &p.Schema, &until, &reload); err != nil {
			return err
		}
		p.Alive = tx.pg == nil || until > serverTime
		list = append(list, p)
		return json.Unmarshal([]byte(reload), &list[len(list)-1].Reload)
	})
	return list, err
}

// AnswerReload stores the answer of this process to a request to read its configuration anew.
func (tx *Tx) AnswerReload(number int64, done ReloadDone) error {
	b, err := json.Marshal(done)
	if err != nil {
		return fmt.Errorf("store: answer reload: %w", err)
	}
	return fail("answer reload", tx.do(sqlSetReload, string(b), tx.s.process, number))
}
