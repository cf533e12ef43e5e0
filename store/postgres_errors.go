package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"net"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
)

// UnknownError says that a write may or may not have been committed, because the connection was lost before the server
// answered. The same work may be done again: what it wrote is found by its key.
type UnknownError struct{ Err error }

func (e *UnknownError) Error() string { return "unknown whether it was written: " + e.Err.Error() }
func (e *UnknownError) Unwrap() error { return e.Err }

// These are classes and codes of PostgreSQL errors (PostgreSQL manual, appendix A).
const (
	pgSerialization = "40001"
	pgDeadlock      = "40P01"
	pgReadOnly      = "25006"
	pgDiskFull      = "53100"
	pgTooMany       = "53300"
	pgNoLock        = "55P03"
	pgCanceled      = "57014"
	pgShutdown      = "57P01"
	pgCrashed       = "57P02"
	pgStarting      = "57P03"
	pgIdle          = "25P03" // the transaction waited too long for its next statement
	pgIO            = "58030"
	pgDamaged       = "XX001"
	pgIndexDamaged  = "XX002"
	pgPassword      = "28P01"
	pgRefused       = "28000"
	pgNoDatabase    = "3D000"
	pgMayNot        = "42501"
	pgConnection    = "08" // class
	pgNoResources   = "53" // class
)

// serverCode returns the code of an error that a PostgreSQL server sent, or "".
func serverCode(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

// shortError is an error of the driver in one line: what the server said, if it said anything, and not what else was
// tried before.
type shortError struct{ error }

func (e shortError) Unwrap() error { return e.error }

func (e shortError) Error() string {
	var said *pgconn.PgError
	if errors.As(e.error, &said) {
		return said.Error()
	}
	lines := strings.FieldsFunc(e.error.Error(), func(r rune) bool { return r == '\n' || r == '\t' })
	return strings.Join(lines, " ")
}

// serverClass returns the class of such an error, the first two characters of its code.
func serverClass(err error) string {
	c := serverCode(err)
	return c[:min(2, len(c))]
}

// refused reports whether the server answered with an error, so that it surely did not commit.
func refused(err error) bool {
	return errors.Is(err, errRolledBack) || serverCode(err) != "" && !serverEnded(err)
}

// conflict reports whether the server rolled a write back because it conflicted with another one.
func conflict(err error) bool {
	return slices.Contains([]string{pgSerialization, pgDeadlock}, serverCode(err))
}

// serverEnded reports whether the server ended the connection, or is about to.
func serverEnded(err error) bool {
	return slices.Contains([]string{pgShutdown, pgCrashed, pgStarting, pgIdle}, serverCode(err)) ||
		serverClass(err) == pgConnection
}

// broken reports whether the connection of an error must not be used again: it is lost, or leads to a server that does
// not take writes any more.
func broken(err error) bool {
	var network net.Error
	var connect *pgconn.ConnectError
	switch {
	case err == nil:
		return false
	case serverEnded(err), serverCode(err) == pgReadOnly:
		return true
	case serverCode(err) != "":
		return false
	}
	return errors.Is(err, driver.ErrBadConn) || errors.Is(err, sql.ErrConnDone) || errors.Is(err, io.EOF) ||
		errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, context.DeadlineExceeded) ||
		errors.Is(err, net.ErrClosed) || errors.Is(err, pgconn.ErrConnClosed) ||
		errors.As(err, &network) || errors.As(err, &connect) || pgconn.SafeToRetry(err)
}

// serverUnavailable is Unavailable for errors of a server and of the connection to it.
func serverUnavailable(err error) bool {
	var unknown *UnknownError
	return errors.As(err, &unknown) || conflict(err) || serverClass(err) == pgNoResources ||
		slices.Contains([]string{pgNoLock, pgCanceled, pgIO, pgReadOnly}, serverCode(err)) || lostServer(err)
}

// lostError marks an error by which a statement or its answer was lost. Many of these errors are of no type of their
// own, such as io.ErrUnexpectedEOF.
type lostError struct{ error }

func (e *lostError) Unwrap() error { return e.error }

// markLost marks an error of a transaction, if the connection was lost.
func markLost(err error) error {
	if serverCode(err) == "" && broken(err) && !errors.Is(err, context.DeadlineExceeded) {
		return &lostError{err}
	}
	return err
}

// lostServer is like broken, but leaves out the end of the caller's own context, which is no fault of the database.
func lostServer(err error) bool {
	var connect *pgconn.ConnectError
	var op *net.OpError
	var lost *lostError
	return serverEnded(err) || errors.As(err, &lost) || errors.Is(err, driver.ErrBadConn) ||
		errors.As(err, &connect) || errors.As(err, &op) || serverCode(err) == "" && pgconn.SafeToRetry(err)
}

// serverAdvice is Advice for errors of a server and of the connection to it; "" for any other error.
func serverAdvice(err error) string {
	switch serverCode(err) {
	case pgDiskFull:
		return "the disk of the server is full: make room on it"
	case pgTooMany:
		return "the server takes no more connections: raise max_connections there, or lower " + connsParameter +
			" in the address"
	case pgReadOnly:
		return "the server does not take writes: it is a standby, or read only; give the address of the primary"
	case pgNoLock, pgCanceled, pgDeadlock, pgSerialization:
		return "the server is too slow, or another program holds rows too long: look at its load and pg_stat_activity"
	case pgIO:
		return "the disk of the server fails: look at the disk"
	case pgDamaged, pgIndexDamaged:
		return "the database is damaged: stop the service and put back a backup"
	case pgPassword, pgRefused:
		return "the server refuses this user: look at the name, the password and pg_hba.conf"
	case pgNoDatabase:
		return "there is no such database: make it with CREATE DATABASE"
	case pgMayNot:
		return "this user may not do it: make it the owner of the database"
	}
	switch {
	case errors.Is(err, errNoStandby):
		return "somebody canceled a commit that waited for the synchronous standby: look whether the standby runs"
	case serverClass(err) == pgNoResources:
		return "the server is out of resources: look at its memory and its limits"
	case lostServer(err), errors.As(err, new(*UnknownError)):
		return "the server cannot be reached: look whether it runs, and at the address and the network between"
	case serverCode(err) != "":
		return "the database refuses the work: look at the log of the server"
	}
	return ""
}
