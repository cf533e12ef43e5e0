package store

import "runtime/debug"

// Part runs fn as a part of the transaction. If fn fails or panics, only what fn wrote is undone, and Part returns the
// error; the caller may go on. If broken is true, the transaction itself is lost and must be given up.
func (tx *Tx) Part(fn func() error) (broken bool, err error) {
	if err := tx.do("SAVEPOINT part"); err != nil {
		return true, fail("part", err)
	}
	if err = recovered(fn); err != nil {
		broken = Unavailable(err) || tx.do("ROLLBACK TO part") != nil
		if broken {
			return true, err
		}
	}
	if release := tx.do("RELEASE part"); release != nil {
		return true, fail("part", release)
	}
	return false, err
}

// recovered runs fn and returns a panic of it as a *PanicError.
func recovered(fn func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &PanicError{Value: v, Stack: debug.Stack()}
		}
	}()
	return fn()
}
