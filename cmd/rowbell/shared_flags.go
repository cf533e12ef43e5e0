package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/store"
)

// recordsFlags name an existing database, which a running service may use at the same time.
type recordsFlags struct {
	DB     string `name:"db" help:"Database file or address (default: ${default_db})." placeholder:"DB"`
	Config string `help:"Configuration that names the database (default: ${default_config})." placeholder:"FILE"`
}

// load reads the configuration, in which --db replaces the path of the database. The path is set even if the
// configuration has mistakes.
func (f recordsFlags) load() (config.Config, error) {
	conf, err := config.Load(f.Config)
	conf.DB = cmp.Or(f.DB, conf.DB)
	return conf, err
}

// open opens the records, which the caller must close.
func (f recordsFlags) open(ctx context.Context) (*store.Store, config.Config, error) {
	conf, err := f.load()
	if err != nil {
		return nil, conf, err
	}
	s, err := openExisting(ctx, conf.DB)
	return s, conf, err
}

// openFor opens the records, which the caller must close, for the flag --phone of a command.
func (f recordsFlags) openFor(ctx context.Context, command, number string) (*store.Store, store.Phone, error) {
	s, conf, err := f.open(ctx)
	if err != nil {
		return nil, "", err
	}
	phone, err := parsePhone("--phone", number, conf.CountryCode)
	if err != nil {
		return nil, "", errors.Join(&usageError{err, "rowbell " + command + " --help"}, s.Close())
	}
	return s, phone, nil
}

// view runs fn in a read-only transaction on the records.
func (f recordsFlags) view(ctx context.Context, fn func(*store.Tx) error) error {
	s, _, err := f.open(ctx)
	if err != nil {
		return err
	}
	return errors.Join(s.View(ctx, fn), s.Close())
}

// change runs fn in a transaction that can write to the records.
func (f recordsFlags) change(ctx context.Context, fn func(*store.Tx) error) error {
	s, _, err := f.open(ctx)
	if err != nil {
		return err
	}
	return errors.Join(s.InTx(ctx, fn), s.Close())
}

// openExisting opens records, and makes none if there are none.
func openExisting(ctx context.Context, db string) (*store.Store, error) {
	if err := recordsExist(ctx, db); err != nil {
		return nil, err
	}
	s, err := store.Open(ctx, db, store.Options{ReadConns: 1, Existing: true})
	if errors.Is(err, store.ErrNoRecords) {
		return nil, noRecords(store.DisplayName(db))
	}
	return s, err
}

func noRecords(db string) error {
	return fmt.Errorf("there are no records at %s: rowbell serve makes them; --db names others", db)
}

// recordsExist returns an error if db is a file without records. The error says whether there were records before. It
// does not ask a server: store.Open does.
func recordsExist(ctx context.Context, db string) error {
	if store.OnServer(db) {
		return nil
	}
	info, err := os.Stat(db)
	if errors.Is(err, fs.ErrNotExist) || err == nil && store.Empty(info) {
		if store.Vanished(ctx, db, store.Contents{}, nil) != nil {
			return fmt.Errorf("there are no records at %s any more: rowbell doctor says which backup to put back; "+
				"--db names others", db)
		}
		return noRecords(db)
	}
	return nil
}

// growerFlag names a grower without a phone number.
type growerFlag struct {
	Grower int64 `help:"Or the id of a grower without a number; see rowbell move --unlinked." placeholder:"ID"`
}

// person is named by a phone number or, without one, by the id of the grower.
type person struct {
	phone  store.Phone
	grower int64
}

// check returns an error unless either a number or an id is given. flag is the flag of the number.
func (g growerFlag) check(flag, number string) error {
	switch {
	case number != "" && g.Grower != 0:
		return fmt.Errorf("name the person by %s or by --grower, not by both", flag)
	case number == "" && g.Grower == 0:
		return fmt.Errorf("name the person by %s or by --grower", flag)
	case g.Grower < 0:
		return fmt.Errorf("--grower %d is not an id", g.Grower)
	}
	return nil
}

// parsePhone parses the phone number of a flag; "" is no error.
func parsePhone(flag, number, countryCode string) (store.Phone, error) {
	if number == "" {
		return "", nil
	}
	p, err := gateway.ParsePhone(number, countryCode)
	if err != nil {
		return "", fmt.Errorf("%s: this is not a phone number with its country code", flag)
	}
	return p, nil
}

// String returns the phone number, masked, or the grower's id.
func (p person) String() string {
	if p.phone != "" {
		return p.phone.String()
	}
	return fmt.Sprintf("grower %d", p.grower)
}

// eraseUnlinked erases the records of a grower without a phone number.
func (p person) eraseUnlinked(tx *store.Tx, now int64) error {
	err := tx.EraseUnlinked(p.grower, now)
	if errors.Is(err, store.ErrUnknown) {
		return fmt.Errorf("grower %d is not one without a number; see rowbell move --unlinked", p.grower)
	}
	return err
}
