package testrun

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"sync"
	"sync/atomic"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver pgx
)

// OnServer reports whether the tests run on the PostgreSQL server that the variable ROWBELL_TEST_POSTGRES names. Its
// user must be allowed to make databases. The script .ci/postgres starts such a server.
func OnServer() bool { return os.Getenv(variable) != "" }

const variable = "ROWBELL_TEST_POSTGRES"

var (
	count    atomic.Int64
	template struct {
		once sync.Once
		name string
		err  error
	}
)

// Database makes a database for one test, removes it when the test has ended, and returns its address. The function
// migrate brings an empty database up to date; it is called once for all tests.
func Database(t testing.TB, migrate func(address string) error) (address string) {
	t.Helper()
	template.once.Do(func() {
		template.name = fmt.Sprintf("rowbell_test_%d", os.Getpid())
		if template.err = run("CREATE DATABASE " + template.name); template.err == nil {
			template.err = migrate(at(template.name))
		}
	})
	if template.err != nil {
		t.Fatal(template.err)
	}
	return newDatabase(t, " TEMPLATE "+template.name)
}

// EmptyDatabase makes a database without tables for one test, removes it when the test has ended, and returns its
// address.
func EmptyDatabase(t testing.TB) (address string) {
	t.Helper()
	return newDatabase(t, "")
}

func newDatabase(t testing.TB, options string) (address string) {
	t.Helper()
	name := fmt.Sprintf("rowbell_test_%d_%d", os.Getpid(), count.Add(1))
	if err := run("CREATE DATABASE " + name + options); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := run("DROP DATABASE " + name + " WITH (FORCE)"); err != nil {
			t.Error(err)
		}
	})
	return at(name)
}

// at returns the address of a database on the server of the tests.
func at(name string) string {
	u, err := url.Parse(os.Getenv(variable))
	if err != nil {
		panic(err)
	}
	u.Path = "/" + name
	return u.String()
}

var server = sync.OnceValues(func() (*sql.DB, error) { return sql.Open("pgx", os.Getenv(variable)) })

func run(statement string) error {
	db, err := server()
	if err == nil {
		_, err = db.ExecContext(context.Background(), statement)
	}
	return err
}
