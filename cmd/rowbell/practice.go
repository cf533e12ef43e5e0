package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/handset"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// practiceCmd is rowbell practice: the service with an invented valley, a
// calendar that is moved by hand, and a handset.
type practiceCmd struct {
	Listen   string `default:"${default_listen}" help:"Address of the page (default ${default_listen}); practice is for this machine only." placeholder:"ADDR"`
	DB       string `name:"db" help:"Keep the practice records in this file; without it they are gone at the end." placeholder:"FILE"`
	Terminal bool   `help:"A handset on the terminal instead of the page."`
	Config   string `help:"Configuration, for its texts (default ${default_config}, if there is one)." placeholder:"FILE"`
	Start    string `help:"First day, YYYY-MM-DD; without it today." placeholder:"DATE"`
	simulateFlags
}

// practiceHour is the hour of the day at which the calendar stands: after the
// place's morning hour, so that a morning's texts have come.
const practiceHour = 8

// practiceMark is the name of a place that only practice records have.
const practiceMark = "practice valley"

// Run opens the practice room until the context ends.
func (c *practiceCmd) Run(w *world) error {
	if c.simulateFlags.asked() {
		return c.simulateFlags.run(w.out, w.now())
	}
	return c.run(w.ctx, w.now(), w.in, w.out, w.log.Level(zerolog.WarnLevel))
}

func (c *practiceCmd) run(ctx context.Context, now time.Time, in io.Reader, out io.Writer, log zerolog.Logger) (err error) {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	path := c.DB
	if path == "" {
		var dir string
		if dir, err = os.MkdirTemp("", "rowbell-practice-"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
		path = filepath.Join(dir, "practice.db")
	}
	var start engine.Day
	if c.Start != "" {
		if start, err = engine.ParseDay(c.Start); err != nil {
			return &usageError{fmt.Errorf("--start %s: %w", c.Start, err), "rowbell practice --start " + engine.DayOf(now, time.UTC).String()}
		}
	}
	addr := c.Listen
	if c.Terminal {
		addr = "127.0.0.1:0" // only the handset itself calls
	}
	p, err := openPractice(ctx, path, start, now, addr, conf.Texts, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.close()) }()
	if c.Terminal {
		return handset.NewTerminal(p.room, out).Run(ctx, in)
	}
	fmt.Fprintf(out, "Practice: nothing is sent, and the people are invented.\nOpen %s/practice/ in a browser; stop with Ctrl-C.\n", p.url)
	<-ctx.Done()
	return nil
}

// practice is the practice room with its service running.
type practice struct {
	service *service.Service
	server  *http.Server
	clock   *clock.Manual
	zone    *time.Location
	room    *handset.Room
	url     string
}

// openPractice starts the service on the records at path, brings a new valley
// up to its first day, and serves the page at addr.
func openPractice(ctx context.Context, path string, start engine.Day, now time.Time, addr string, texts config.Texts, log zerolog.Logger) (_ *practice, err error) {
	if err := loopbackOnly(addr); err != nil {
		return nil, &usageError{err, "rowbell practice --listen " + config.DefaultListen}
	}
	zone, err := time.LoadLocation(valleyPlace().Zone)
	if err != nil {
		return nil, err
	}
	p := &practice{zone: zone, clock: clock.New(now)}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	token := rand.Text()
	if p.service, err = startPractice(ctx, path, token, texts, p.clock, log); err != nil {
		return nil, err
	}
	if err := p.bringUp(ctx, start, now); err != nil {
		return nil, err
	}
	listener, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("%w: another address can be given with --listen", err)
	}
	p.url = "http://" + listener.Addr().String()
	line := handset.NewLine(&http.Client{Timeout: time.Minute}, p.url, token, rand.Text())
	if p.room, err = handset.NewRoom(ctx, p, line, config.DefaultDialCode); err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	mux := http.NewServeMux()
	mux.Handle("/", p.service.Handler())
	mux.Handle("GET /{$}", http.RedirectHandler("/practice/", http.StatusSeeOther))
	mux.Handle("/practice/", handset.Page(p.room))
	p.server = gateway.NewServer(addr, mux)
	go func() {
		if err := p.server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			log.Error().Err(err).Msg("practice: the page is not served any more")
		}
	}()
	return p, nil
}

// startPractice wires the service on practice records: a token of its own, a
// clock that is moved by hand, texts that go to the log. Nothing runs until
// Settle is called.
func startPractice(ctx context.Context, db, token string, texts config.Texts, clk *clock.Manual, log zerolog.Logger) (*service.Service, error) {
	c := config.Default()
	c.DB, c.Texts, c.Limits = db, texts, config.Limits{} // no limit by the minute: this clock may stand still
	network := c.Local("")
	network.Token, network.Push.Rate = profile.HashToken(token), 0
	return service.Start(ctx, c, service.Options{Networks: []profile.Profile{network}, Clock: clk, Log: log, Version: buildVersion()})
}

// loopbackOnly refuses an address that others could reach: practice asks
// nobody for a password.
func loopbackOnly(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return fmt.Errorf("--listen %s: %w", addr, err)
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	return fmt.Errorf("--listen %s: practice is for this machine only", addr)
}

func (p *practice) close() error {
	var errs []error
	if p.server != nil {
		errs = append(errs, p.server.Close())
	}
	if p.service != nil {
		errs = append(errs, p.service.Close())
	}
	return errors.Join(errs...)
}

// bringUp plays the valley's history on new records, or takes up records of an
// earlier practice where they ended.
func (p *practice) bringUp(ctx context.Context, start engine.Day, now time.Time) error {
	first := start
	if first == 0 {
		first = engine.DayOf(now, p.zone)
	}
	known, err := p.known(ctx)
	if err != nil {
		return err
	}
	if known {
		last, err := p.lastDay(ctx)
		if err != nil {
			return err
		}
		if start != 0 && start < last {
			return fmt.Errorf("--start %s: these practice records have come to %s already", start, last)
		}
		p.clock.Set(max(first, last).At(practiceHour, p.zone))
		return p.service.Settle(ctx)
	}
	deeds, err := history(first)
	if err != nil {
		return err
	}
	for day := deeds[0].on; day <= first; day++ {
		at := day.At(practiceHour, p.zone)
		p.clock.Set(at)
		for ; len(deeds) > 0 && deeds[0].on == day; deeds = deeds[1:] {
			if err := did(ctx, p.service.Store(), deeds[0], at.Unix()); err != nil {
				return err
			}
		}
		if err := p.service.Settle(ctx); err != nil {
			return err
		}
	}
	return nil
}

// known tells records of an earlier practice from new ones. Records of real
// growers are refused: practice would move their calendar.
func (p *practice) known(ctx context.Context) (known bool, err error) {
	err = p.service.Store().InTx(ctx, func(tx *store.Tx) error {
		if _, known, err = tx.PlaceByName(practiceMark); err != nil || known {
			return err
		}
		st, err := tx.Stats(0)
		if err != nil {
			return err
		}
		if st.Growers > 0 || len(st.Outbox) > 0 {
			return errors.New("--db: these are not practice records; give the path of another file")
		}
		mark := valleyPlace()
		if _, err := tx.PutPlace(mark); err != nil {
			return err
		}
		mark.Name = practiceMark
		_, err = tx.PutPlace(mark)
		return err
	})
	return known, err
}

// lastDay is the day of the latest text in the valley.
func (p *practice) lastDay(ctx context.Context) (engine.Day, error) {
	var last int64
	err := p.service.Store().View(ctx, func(tx *store.Tx) error {
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
	return engine.DayOf(time.Unix(last, 0), p.zone), err
}

var _ handset.Valley = (*practice)(nil)

// Now is part of handset.Valley, as are the methods below.
func (p *practice) Now() time.Time { return p.clock.Now().In(p.zone) }

// NextDay moves to the next day's morning.
func (p *practice) NextDay(ctx context.Context) error {
	p.clock.Set((engine.DayOf(p.clock.Now(), p.zone) + 1).At(practiceHour, p.zone))
	return p.service.Settle(ctx)
}

// Settle lets some seconds go by, as they do, and sends what waits.
func (p *practice) Settle(ctx context.Context) error {
	p.clock.Advance(10 * time.Second)
	return p.service.Settle(ctx)
}

// Phones lists the valley's growers.
func (p *practice) Phones(context.Context) ([]handset.Phone, error) {
	var list []handset.Phone
	for _, v := range valley() {
		list = append(list, handset.Phone{Number: v.phone.E164(), Name: v.name, About: v.about})
	}
	return list, nil
}

// Texts lists what the network took for a phone.
func (p *practice) Texts(ctx context.Context, number string) ([]handset.Text, error) {
	var list []handset.Text
	err := p.service.Store().View(ctx, func(tx *store.Tx) error {
		texts, err := tx.Inbox(store.Phone(number), 0)
		for _, m := range texts {
			if m.State == store.Accepted || m.State == store.Delivered {
				list = append(list, handset.Text{At: time.Unix(m.AcceptedAt, 0).In(p.zone), Kind: m.Kind(), Body: m.Text})
			}
		}
		return err
	})
	return list, err
}

// Plots lists a phone's open plots.
func (p *practice) Plots(ctx context.Context, number string) ([]handset.Plot, error) {
	var list []handset.Plot
	err := p.service.Store().View(ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(number), p.clock.Now().Unix())
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
