package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
)

// twoProcesses opens the records of a server twice, as two processes do.
func twoProcesses(t *testing.T) [2]*Store {
	t.Helper()
	serverOnly(t)
	s := open(t)
	return [2]*Store{s, openAt(t, addressOf(s))}
}

// phoneNo returns one of many phones.
func phoneNo(n int) Phone { return ana[:len(ana)-3] + Phone(fmt.Sprintf("%03d", n)) }

// Both processes claim all the time. No text goes out twice, and never two texts to one phone at the same time.
func TestTwoProcessesSendEachTextOnce(t *testing.T) {
	s := twoProcesses(t)
	const phones, texts, workers = 20, 200, 3
	for n := range texts {
		m := text(fmt.Sprint(n), phoneNo(n%phones), noon)
		enqueue(t, s[n%2], m)
	}
	var mu sync.Mutex
	sent, busy := map[string]int{}, map[Phone]bool{}
	var wg sync.WaitGroup
	for w := range 2 * workers {
		wg.Go(func() {
			store, c := s[w%2], local(1+w)
			for {
				list := get(t, store, func(tx *Tx) (Claims, error) { return tx.Claim(noon, c) }).Texts
				mu.Lock()
				done := len(sent) == texts
				mine := map[Phone]bool{}
				for _, m := range list {
					sent[m.Key]++
					errorIf(t, busy[m.To] && !mine[m.To], "two workers send to %s", m.To)
					busy[m.To], mine[m.To] = true, true
				}
				mu.Unlock()
				if done {
					return
				}
				var results []Settlement
				mu.Lock()
				for _, m := range list {
					results = append(results, m.Took(m.Key))
					delete(busy, m.To) // before it is settled: from then on another worker may claim for the phone
				}
				mu.Unlock()
				write(t, store, func(tx *Tx) error { return tx.Settle(noon, results...) })
			}
		})
	}
	wg.Wait()
	for key, n := range sent {
		errorIf(t, n != 1, "text %s was sent %d times", key, n)
	}
	wantRows(t, s[0], map[string]int64{"message WHERE state = 'accepted'": texts})
}

// A limit holds for both processes together, to the text.
func TestTwoProcessesKeepOneBudget(t *testing.T) {
	s := twoProcesses(t)
	const limit, workers = 30, 4
	for n := range 2 * limit {
		enqueue(t, s[n%2], text(fmt.Sprint(n), phoneNo(n), noon))
	}
	var mu sync.Mutex
	var wg sync.WaitGroup
	all := 0
	for w := range workers {
		wg.Go(func() {
			c := local(7)
			c.All = Limits{TextsADay: limit}
			for range limit {
				n := len(get(t, s[w%2], func(tx *Tx) (Claims, error) { return tx.Claim(noon, c) }).Texts)
				mu.Lock()
				all += n
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	equal(t, all, limit, "claimed")
	wantNumber(t, s[0], limit, "SELECT texts FROM spend WHERE scope = ''")
}

// The bell locks the phones of the growers for whom it writes and no others, also while there are so few growers that
// the server reads all of them.
func TestOnlyTheGivenGrowersAreLocked(t *testing.T) {
	serverOnly(t)
	s := open(t)
	phones := make([]Phone, 100)
	for n := range phones {
		phones[n] = phoneNo(n)
	}
	withPlot(t, s, phones...)
	execSQL(t, s, "ANALYZE grower")
	write(t, s, func(tx *Tx) error {
		list, err := tx.lockGrowers([]int64{3, 7})
		if err != nil {
			return err
		}
		slices.Sort(list)
		equal(t, fmt.Sprint(list), "[3 7]", "growers")
		return wantLocks(t, tx, 2)
	})
}

// wantLocks checks how many phones and names this transaction has locked on the server.
func wantLocks(t *testing.T, tx *Tx, want int64) error {
	t.Helper()
	var got int64
	_, err := tx.one("SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND pid = pg_backend_pid()", nil, &got)
	equal(t, got, want, "locks")
	return err
}

// Writes leave connections for reading: if as many run as may, another one does not start, and a view does.
func TestWritesLeaveConnectionsForReading(t *testing.T) {
	serverOnly(t)
	const writes = 2
	s := openAt(t, addressOf(open(t))+fmt.Sprintf("?%s=%d", connsParameter, writes+spareConns))
	var begun, ended sync.WaitGroup
	begun.Add(writes)
	goOn := make(chan struct{})
	for range writes {
		ended.Go(func() {
			write(t, s, func(*Tx) error { begun.Done(); <-goOn; return nil })
		})
	}
	begun.Wait()
	canceled, cancel := context.WithCancel(ctx)
	cancel()
	err := s.InTx(canceled, func(*Tx) error { return nil })
	errorIf(t, !errors.Is(err, context.Canceled), "one more write: %v", err)
	view(t, s, func(tx *Tx) error { return second(column[int64](tx, "SELECT 1", nil)) })
	close(goOn)
	ended.Wait()
}

// Two callbacks of one phone come to two processes at the same time. Each adds one to the state of the dialogue.
func TestCallbacksOfAPhoneComeOneByOne(t *testing.T) {
	s := twoProcesses(t)
	const callbacks = 60
	var wg sync.WaitGroup
	for n := range callbacks {
		wg.Go(func() {
			write(t, s[n%2], func(tx *Tx) error {
				d, _, err := tx.Session(ana, "ussd")
				if err != nil {
					return err
				}
				count, _ := strconv.Atoi(string(d.State))
				d.State, d.SavedAt, d.ExpiresAt = []byte(strconv.Itoa(count+1)), noon, noon+day
				return tx.SaveSession(d)
			})
		})
	}
	wg.Wait()
	d, _ := lookUp(t, s[0], func(tx *Tx) (Session, bool, error) { return tx.Session(ana, "ussd") })
	equal(t, string(d.State), strconv.Itoa(callbacks), "callbacks that count")
}

// Six workers change rows that they share, at random, while texts are claimed. No write fails, except a move to a
// number that has records.
func TestTwoProcessesDoNotDisturbEachOther(t *testing.T) {
	s := twoProcesses(t)
	phones := []Phone{ana, ben, cleo}
	withPlot(t, s[0], phones...)
	var wg sync.WaitGroup
	for w := range 6 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(1, uint64(w)))
			for n := range 15 {
				p, at := phones[r.IntN(len(phones))], noon+int64(n)
				err := s[w%2].InTx(ctx, func(tx *Tx) error {
					l, err := tx.Ledger(p, at)
					if err != nil {
						return err
					}
					switch r.IntN(5) {
					case 0:
						return l.Stop()
					case 1:
						return errors.Join(consent(l), l.Start())
					case 2:
						m := text(fmt.Sprint(w, n), p, at)
						return second(tx.Enqueue(m))
					case 3:
						return second(tx.Claim(at, local(5)))
					}
					return second(tx.Move(1, phones[r.IntN(len(phones))], at))
				})
				errorIf(t, err != nil && !errors.Is(err, ErrTaken), "worker %d, %d: %v", w, n, err)
			}
		})
	}
	wg.Wait()
	wantRows(t, s[0], map[string]int64{"grower": 3})
}

// Two writes lock two phones in opposite order. The server rolls one back, which runs again.
func TestConflictingWriteRunsAgain(t *testing.T) {
	s := twoProcesses(t)
	var runs [2]int
	var first sync.WaitGroup // until both have their first lock
	first.Add(2)
	var wg sync.WaitGroup
	for i, order := range [][]Phone{{ana, ben}, {ben, ana}} {
		wg.Go(func() {
			write(t, s[i], func(tx *Tx) error {
				runs[i]++
				err := tx.Lock(order[0])
				if runs[i] == 1 {
					first.Done()
					first.Wait()
				}
				return errors.Join(err, tx.Lock(order[1]), remember(fmt.Sprint(i))(tx))
			})
		})
	}
	wg.Wait()
	slices.Sort(runs[:])
	equal(t, runs, [2]int{1, 2}, "runs")
	equal(t, remembered(t, s[0]), "0 1", "kept")
}

// A write whose connection is lost before its commit has written nothing, and runs again on another connection.
func TestWriteOnALostConnectionRunsAgain(t *testing.T) {
	s := twoProcesses(t)
	runs := 0
	write(t, s[0], func(tx *Tx) error {
		runs++
		if err := remember("a")(tx); err != nil || runs > 1 {
			return err
		}
		var pid int64
		if _, err := tx.one("SELECT pg_backend_pid()", nil, &pid); err != nil {
			return err
		}
		view(t, s[1], func(tx *Tx) error {
			return second(tx.one("SELECT pg_terminate_backend($1)", args(pid), new(bool)))
		})
		return remember("b")(tx)
	})
	equal(t, runs, 2, "runs")
	equal(t, remembered(t, s[0]), "a", "kept")
}

// If the server ends the connection during the commit, it is unknown whether the write is on disk. The write does not
// run again: the network repeats its call, and is answered by the stored reply if there is one.
func TestCommitWithoutAnAnswer(t *testing.T) {
	s := twoProcesses(t)
	execSQL(t, s[0], `CREATE FUNCTION leave() RETURNS trigger LANGUAGE plpgsql AS
		'BEGIN PERFORM pg_terminate_backend(pg_backend_pid()); PERFORM pg_sleep(10); RETURN NULL; END'`)
	execSQL(t, s[0], `CREATE CONSTRAINT TRIGGER leave AFTER INSERT ON callback DEFERRABLE INITIALLY DEFERRED
		FOR EACH ROW EXECUTE FUNCTION leave()`)
	runs := 0
	err := s[0].InTx(ctx, func(tx *Tx) error { runs++; return remember("a")(tx) })
	var unknown *UnknownError
	errorIf(t, !errors.As(err, &unknown) || !Unavailable(err), "the error %v", err)
	equal(t, runs, 1, "runs")
	execSQL(t, s[1], "DROP TRIGGER leave ON callback")
	write(t, s[0], remember("b"))
	equal(t, remembered(t, s[0]), "b", "kept")
}

// A commit that did not wait for the standby has the same result as one without an answer. The test sends the warning
// in place of the server.
func TestCommitWithoutTheStandby(t *testing.T) {
	serverOnly(t)
	s := open(t)
	err := s.InTx(ctx, func(tx *Tx) error {
		return errors.Join(remember("a")(tx), tx.flush(), tx.conn.Raw(func(c any) error {
			onNotice(c.(*stdlib.Conn).Conn().PgConn(), &pgconn.Notice{Routine: "SyncRepWaitForLSN"})
			return nil
		}))
	})
	var unknown *UnknownError
	errorIf(t, !errors.As(err, &unknown) || !errors.Is(err, errNoStandby), "the error %v", err)
}

// After a failed statement the server refuses the other statements of the transaction, and COMMIT rolls back without an
// error.
func TestWriteThatGoesOnAfterAnErrorIsNotKept(t *testing.T) {
	serverOnly(t)
	s := open(t)
	err := s.InTx(ctx, func(tx *Tx) error {
		_, _ = tx.exec("INSERT INTO no_such_table VALUES (1)")
		return nil
	})
	wantErr(t, err, errRolledBack, "a write that goes on")
	write(t, s, remember("a"))
	equal(t, remembered(t, s), "a", "kept")
}

// The locks of a part that failed are released, so the next part must take them again. Its queued statements are not
// sent: one that the server refuses would break the whole transaction.
func TestFailedPartLeavesNothing(t *testing.T) {
	s := twoProcesses(t)
	write(t, s[0], func(tx *Tx) error {
		broken, err := tx.Part(func() error {
			return errors.Join(tx.Lock(ana), tx.do("INSERT INTO no_such_table VALUES (1)"), errBad)
		})
		errorIf(t, broken || !errors.Is(err, errBad), "%v %v", broken, err)
		write(t, s[1], func(tx *Tx) error { return tx.Lock(ana) }) // fails if ana is still locked
		return errors.Join(tx.Lock(ana), wantLocks(t, tx, 1))
	})
}

func TestProcessesThatStartTogether(t *testing.T) {
	serverOnly(t)
	s := open(t)
	address := addressOf(s)
	execSQL(t, s, "DROP SCHEMA public CASCADE")
	execSQL(t, s, "CREATE SCHEMA public")
	keys := make([]string, 4)
	var wg sync.WaitGroup
	for i := range keys {
		wg.Go(func() {
			s, err := Open(ctx, address, Options{})
			if err != nil {
				t.Error(err)
				return
			}
			keys[i] = string(s.hashKey)
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	equal(t, len(slices.Compact(slices.Sorted(slices.Values(keys)))), 1, "keys of the hashes")
	wantRows(t, openAt(t, address),
		map[string]int64{"place": 1, "schema_version WHERE version_id > 0": serverMigrations(t)})
}

// serverMigrations returns how many migrations there are for a server.
func serverMigrations(t *testing.T) int64 {
	t.Helper()
	list, err := migrationFiles.ReadDir("migrations/postgres")
	ok(t, err)
	return int64(len(list))
}

// Texts and ids of networks may contain octets that PostgreSQL refuses in text.
func TestTextThatTheServerRefuses(t *testing.T) {
	s := open(t)
	key := "id\x00\xff" + strings.Repeat("é", 3)
	write(t, s, remember(key))
	_, there := lookUp(t, s, func(tx *Tx) ([]byte, bool, error) { return tx.StoredReply("local", key, ana, 0) })
	errorIf(t, !there, "the reply under an odd key is lost")
	m := text("k", ana, noon)
	m.Text = "a\x00b\xffc"
	id := enqueue(t, s, m)
	_, list := handOver(t, s, noon, local(1))
	settle(t, s, noon, list[0].Again(noon+60, "no\x00\xfe"))
	wantState(t, s, id, Queued)
}
