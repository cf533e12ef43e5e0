// Package practice runs the real service for invented growers of one place, the practice valley. The user moves the
// clock and uses an invented phone (handset) on a web page or a terminal. The package also simulates seasons of
// invented growers with and without the bell, which writes the reminders.
//
//	err := practice.OnPage(ctx, practice.Options{Listen: "127.0.0.1:8080", Now: time.Now(), Log: log}, os.Stdout)
//
// This package has the growers and what they did before practice begins. Package gateway/handset has the page and the
// terminal, engine/simulate the computations of the simulation. Practice sends nothing to a network, does not start on
// the records of real growers, and serves the page to this machine only.
package practice

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/handset"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// Options are the settings of a practice session. Now is required.
type Options struct {
	DB      string     // database file of the practice records; "" = a temporary file
	Start   engine.Day // the first day; 0 = today, or the last day of an earlier session with the same DB
	Listen  string     // address of the page; must be a loopback address
	Texts   config.Texts
	Now     time.Time
	Log     zerolog.Logger
	Version string
}

// InputError is an invalid option.
type InputError struct{ error }

// clockHour is the hour to which the clock is moved each day. The texts of the morning have been sent by then.
const clockHour = 8

// OnPage serves the handset as a web page until ctx ends.
func OnPage(ctx context.Context, o Options, out io.Writer) error {
	return with(ctx, o, func(r *room) error {
		fmt.Fprintf(out, "Practice: nothing is sent, and the people are invented.\n"+
			"Open %[1]s/practice/ in a browser; stop with Ctrl-C.\n"+
			"Five growers share two tools: open %[1]s/practice/phone/%[2]s, dial, choose tool\n"+
			"and planting, circle, tools, and say that one is broken. Only those whose turns move get a text.\n"+
			"The desk of the field worker is at %[1]s/desk/: nobody needs a password here.\n",
			r.url, strings.TrimPrefix(circleGrowers()[0].phone.E164(), "+"))
		<-ctx.Done()
		return nil
	})
}

// OnTerminal runs the handset on a terminal until the input ends.
func OnTerminal(ctx context.Context, o Options, in io.Reader, out io.Writer) error {
	o.Listen = "127.0.0.1:0" // any free port will do: only the handset in this program uses the address
	return with(ctx, o, func(r *room) error { return handset.NewTerminal(r.handset, out).Run(ctx, in) })
}

// with runs fn on an open practice session, then deletes temporary records.
func with(ctx context.Context, o Options, fn func(*room) error) (err error) {
	if o.DB == "" {
		dir, failed := os.MkdirTemp("", "rowbell-practice-")
		if failed != nil {
			return failed
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
		o.DB = filepath.Join(dir, "practice.db")
	}
	r, err := open(ctx, o)
	if err != nil {
		return err
	}
	return errors.Join(fn(r), r.close())
}

// room is an open practice session. It implements handset.Valley.
type room struct {
	options Options
	token   string // of the gateway local
	first   engine.Day
	zone    *time.Location
	server  *http.Server
	handset *handset.Room
	url     string

	// mu is locked for writing while BeginAgain replaces the service and the clock, for reading while they are used.
	mu      sync.RWMutex
	service *service.Service
	clock   *clock.Manual
}

// open starts the service on the practice records and serves the page. New records get the history of the growers up to
// the first day.
func open(ctx context.Context, o Options) (_ *room, err error) {
	if err := loopbackOnly(o.Listen); err != nil {
		return nil, err
	}
	if store.OnServer(o.DB) {
		return nil, errors.New("practice keeps its invented growers in a file: give one with --db")
	}
	zone, err := time.LoadLocation(Place().Zone)
	if err != nil {
		return nil, err
	}
	r := &room{options: o, token: rand.Text(), zone: zone}
	defer func() {
		if err != nil {
			err = errors.Join(err, r.close())
		}
	}()
	if err := r.start(ctx, o.Start); err != nil {
		return nil, err
	}
	listener, err := net.Listen("tcp", o.Listen)
	if err != nil {
		return nil, fmt.Errorf("%w: another address can be given with --listen", err)
	}
	r.url = "http://" + listener.Addr().String()
	line := handset.NewLine(&http.Client{Timeout: time.Minute}, r.url, r.token, rand.Text())
	if r.handset, err = handset.NewRoom(ctx, r, line, config.Default().DialCode); err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/", r.serve)
	mux.Handle("GET /{$}", http.RedirectHandler("/practice/", http.StatusSeeOther))
	mux.HandleFunc("/desk/", r.serveDesk)
	mux.Handle("/practice/", handset.Page(r.handset, handset.Desk{Enter: "/desk/practice/enter",
		Name: fieldWorker, Events: "/desk/practice/events"}))
	r.server = gateway.NewServer(o.Listen, mux)
	go func() {
		if err := r.server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			o.Log.Error().Err(err).Msg("practice: the page is not served any more")
		}
	}()
	return r, nil
}

// start starts the service and brings the records to the first day.
func (r *room) start(ctx context.Context, first engine.Day) error {
	r.clock = clock.New(r.options.Now)
	if err := r.startService(ctx); err != nil {
		return err
	}
	return r.bringUp(ctx, first, r.options.Now)
}

// startService starts the service with the gateway local, which writes texts to the log. It does not start the loops of
// bell and outbox; the method Settle does their work. There are no limits a minute: while the practice clock stands
// still, a limit that is reached would refuse all calls.
func (r *room) startService(ctx context.Context) (err error) {
	o, c := r.options, config.Default()
	c.DB, c.Texts, c.Limits = o.DB, o.Texts, config.Limits{Loop: c.Limits.Loop}
	local := c.Local("")
	local.Token, local.Push.Rate = profile.HashToken(r.token), 0
	r.service, err = service.Start(ctx, c, service.Options{
		Networks: []profile.Profile{local}, Clock: r.clock, Log: o.Log, Version: o.Version, New: true,
		Practice: true})
	return err
}

// serve passes a call to the service.
func (r *room) serve(w http.ResponseWriter, req *http.Request) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	r.service.Handler().ServeHTTP(w, req)
}

// BeginAgain removes the records and makes new ones, as on the first day of practice.
// Who is at the desk stays there.
func (r *room) BeginAgain(ctx context.Context) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	sessions, err := r.deskSessions(ctx)
	if err != nil {
		return err
	}
	r.service.EndStreams()
	if err := r.service.Close(); err != nil {
		return err
	}
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(r.options.DB + suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	if err := r.start(ctx, r.first); err != nil {
		return err
	}
	return r.keepSessions(ctx, sessions)
}

// loopbackOnly returns an error if other machines can reach the address: the page asks for no password.
func loopbackOnly(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return &InputError{fmt.Errorf("--listen %s: %w", addr, err)}
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	return &InputError{fmt.Errorf("--listen %s: practice is for this machine only", addr)}
}

// stopWithin is how long a stop waits for requests that are being answered.
const stopWithin = 2 * time.Second

func (r *room) close() error {
	var errs []error
	if r.service != nil {
		r.service.EndStreams() // so that the browsers see an end and no failure
	}
	if r.server != nil {
		// What is being answered ends first, so that a browser gets the end of its stream of events.
		ctx, cancel := context.WithTimeout(context.Background(), stopWithin)
		defer cancel()
		if r.server.Shutdown(ctx) != nil {
			errs = append(errs, r.server.Close())
		}
	}
	if r.service != nil {
		errs = append(errs, r.service.Close())
	}
	return errors.Join(errs...)
}

// bringUp brings the records to the first day of practice. New records get the history of the growers. Earlier practice
// records move on to their last day or, if later, to the first day.
func (r *room) bringUp(ctx context.Context, start engine.Day, now time.Time) error {
	first := cmp.Or(start, engine.DayOf(now, r.zone))
	known, err := r.earlierPractice(ctx, first)
	if err == nil {
		err = r.addStaff(ctx)
	}
	if err != nil {
		return err
	}
	if known {
		last, err := r.lastDay(ctx)
		if err != nil {
			return err
		}
		if start != 0 && start < last {
			return fmt.Errorf("--start %s: these practice records have come to %s already", start, last)
		}
		r.clock.Set(max(first, last).At(clockHour, r.zone))
		return r.service.Settle(ctx)
	}
	deeds, err := History(first)
	if err != nil {
		return err
	}
	for day := deeds[0].On; day <= first; day++ {
		at := day.At(clockHour, r.zone)
		r.clock.Set(at)
		for ; len(deeds) > 0 && deeds[0].On == day; deeds = deeds[1:] {
			if err := deeds[0].Record(ctx, r.service.Store(), at.Unix()); err != nil {
				return err
			}
		}
		if err := r.service.Settle(ctx); err != nil {
			return err
		}
	}
	return nil
}

// earlierPractice reports whether an earlier practice session made the records, and sets r.first. It marks new records,
// which begin on the day first, and returns an error for the records of real growers.
func (r *room) earlierPractice(ctx context.Context, first engine.Day) (known bool, err error) {
	err = r.service.Store().InTx(ctx, func(tx *store.Tx) error {
		if r.first, known, err = tx.PracticeBegan(); err != nil || known {
			return err
		}
		there, err := tx.AnyRecords()
		if err != nil {
			return err
		}
		if there {
			return errors.New("--db: these are not practice records; give the path of another file")
		}
		if _, err := tx.PutPlace(Place()); err != nil {
			return err
		}
		r.first = first
		return tx.SetPracticeBegan(first)
	})
	return known, err
}

// lastDay returns the day of the latest text to any grower: the day on which the earlier practice session ended.
func (r *room) lastDay(ctx context.Context) (engine.Day, error) {
	var last int64
	err := r.service.Store().View(ctx, func(tx *store.Tx) error {
		for _, v := range valley() {
			texts, err := tx.Inbox(v.phone, 0)
			if err != nil {
				return err
			}
			for _, m := range texts {
				last = max(last, m.CreatedAt)
			}
		}
		return nil
	})
	return engine.DayOf(time.Unix(last, 0), r.zone), err
}

// Now returns the time of the practice clock in the time zone of the growers.
func (r *room) Now() time.Time {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return r.clock.Now().In(r.zone)
}

// First returns the first day of practice.
func (r *room) First() engine.Day {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return r.first
}

// NextDay moves the clock to the next day and sends the texts that are due.
func (r *room) NextDay(ctx context.Context) error {
	r.mu.RLock()
	defer r.mu.RUnlock()
	r.clock.Set((engine.DayOf(r.clock.Now(), r.zone) + 1).At(clockHour, r.zone))
	return r.settle(ctx)
}

// Settle moves the clock by ten seconds and sends the texts that are due.
func (r *room) Settle(ctx context.Context) error {
	r.mu.RLock()
	defer r.mu.RUnlock()
	r.clock.Advance(10 * time.Second)
	return r.settle(ctx)
}

// Phones lists the phones of the growers.
func (r *room) Phones(context.Context) ([]handset.Phone, error) {
	var list []handset.Phone
	for _, v := range valley() {
		list = append(list, handset.Phone{Number: v.phone.E164(), Name: v.name})
	}
	return list, nil
}

// Texts lists the texts to a phone that the network accepted or delivered.
func (r *room) Texts(ctx context.Context, number string) ([]handset.Text, error) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	var list []handset.Text
	err := r.service.Store().View(ctx, func(tx *store.Tx) error {
		texts, err := tx.Inbox(store.Phone(number), 0)
		for _, m := range texts {
			if m.State == store.Accepted || m.State == store.Delivered {
				at := time.Unix(m.AcceptedAt, 0).In(r.zone)
				list = append(list, handset.Text{At: at, Kind: m.Kind(), Body: m.Text})
			}
		}
		return err
	})
	return list, err
}

// Circle returns the circle in which the owner of a phone is a member.
func (r *room) Circle(ctx context.Context, number string) (c circle.Circle, in bool, err error) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	err = r.service.Store().View(ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(number), r.clock.Now().Unix())
		if err != nil {
			return err
		}
		c, in, err = l.Circle()
		return err
	})
	return c, in, err
}

// Plots lists the open plots of a phone.
func (r *room) Plots(ctx context.Context, number string) ([]handset.Plot, error) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	var list []handset.Plot
	err := r.service.Store().View(ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(number), r.clock.Now().Unix())
		if err != nil {
			return err
		}
		numbers, err := l.Plots()
		if err != nil {
			return err
		}
		for _, no := range numbers {
			s, err := l.Season(no)
			if err != nil {
				return err
			}
			list = append(list, handset.Plot{No: no, Season: s})
		}
		return nil
	})
	return list, err
}
