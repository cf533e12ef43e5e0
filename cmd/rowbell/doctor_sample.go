package main

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// sample shows what the recorded requests of a network would be understood as,
// and what they would be answered, one after the other on records that are
// thrown away. Nothing is sent.
func (c *doctorCmd) sample(w *world, conf config.Config) error {
	networks, err := conf.Networks(w.env)
	if err != nil {
		return err
	}
	var network *profile.Profile
	var names []string
	for i := range networks {
		if names = append(names, networks[i].Name); networks[i].Name == c.Profile {
			network = &networks[i]
		}
	}
	if network == nil {
		return fmt.Errorf("there is no network called %s; there are %s", c.Profile, strings.Join(names, ", "))
	}
	dir, err := os.MkdirTemp("", "rowbell-sample-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	conf.DB, conf.Backup, conf.Limits = filepath.Join(dir, "sample.db"), nil, config.Limits{}
	clk := clock.New(present(w, c.TestClock))
	s, err := service.Start(w.ctx, conf, service.Options{Networks: networks, Clock: clk, Log: zerolog.Nop()})
	if err != nil {
		return err
	}
	understood := true
	for _, file := range c.Sample {
		ok, failed := c.playSample(w, s, network, clk, file)
		if understood = understood && ok; failed != nil {
			err = fmt.Errorf("%s: %w", file, failed)
			break
		}
	}
	err = errors.Join(err, s.Close())
	if err == nil && !understood {
		err = errors.New("not all of it would be taken: see above")
	}
	return err
}

// playSample shows one recorded request, at the instant that it tells of
// itself, and its answer.
func (c *doctorCmd) playSample(w *world, s *service.Service, p *profile.Profile, clk *clock.Manual, file string) (ok bool, err error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return false, err
	}
	r, err := gateway.ReadSample(raw)
	if err != nil {
		return false, err
	}
	if c.TestClock.IsZero() && p.Trust != nil && p.Trust.Signs() {
		if at, err := strconv.ParseInt(r.Header.Get("webhook-timestamp"), 10, 64); err == nil && at > 0 {
			clk.Set(time.Unix(at, 0).UTC())
		}
	}
	r.RemoteAddr = "127.0.0.1:1"
	if c.From != "" {
		r.RemoteAddr = net.JoinHostPort(c.From, "1")
	}
	fmt.Fprintf(w.out, "%s\n", filepath.Base(file))
	u, err := gateway.Understand(*p, r, clk.Now())
	if err != nil {
		fmt.Fprintf(w.out, "  would be refused: %v\n\n", err)
		return false, nil
	}
	showUnderstood(w.out, u)
	var got gateway.Rehearsal
	s.Handler().ServeHTTP(&got, r.WithContext(w.ctx))
	fmt.Fprintf(w.out, "  would be answered:\n%s\n", indented(got.String()))
	if err := c.showQueued(w, s, p, u); err != nil {
		return false, err
	}
	fmt.Fprintln(w.out)
	return u.Denied == nil && u.Wrong == nil, nil
}

// showUnderstood prints what a network's description makes of a request.
func showUnderstood(w io.Writer, u gateway.Understood) {
	switch {
	case u.Denied != nil:
		fmt.Fprintf(w, "  the caller would not be let in: %v\n", u.Denied)
	default:
		fmt.Fprintf(w, "  the caller would be let in\n")
	}
	for _, f := range u.Fields {
		switch {
		case f.Wrong != "":
			fmt.Fprintf(w, "  %-9s%-28s%s\n", f.Name, f.At, f.Wrong)
		case f.At == "":
			fmt.Fprintf(w, "  %-9snot described\n", f.Name)
		case f.Value == "":
			fmt.Fprintf(w, "  %-9s%-28snot there\n", f.Name, f.At)
		case f.Name == "phone":
			fmt.Fprintf(w, "  %-9s%-28s%s\n", f.Name, f.At, store.Phone(f.Value))
		default:
			fmt.Fprintf(w, "  %-9s%-28s%q\n", f.Name, f.At, f.Value)
		}
	}
	event := u.Event
	if event == "" {
		event = map[string]string{"ussd": "what the session said before decides", "sms": "a text"}[u.Kind]
	}
	if event == "" {
		event = "nothing that is to be noted"
	}
	fmt.Fprintf(w, "  %s: %s\n", u.Kind, event)
}

// showQueued prints the texts that a request has put into the outbox.
func (c *doctorCmd) showQueued(w *world, s *service.Service, p *profile.Profile, u gateway.Understood) error {
	for _, f := range u.Fields {
		if f.Name != "phone" {
			continue
		}
		phone, err := gateway.ParsePhone(f.Value, p.CountryCode)
		if err != nil {
			continue // said above
		}
		var texts []store.Message
		err = s.Store().View(w.ctx, func(tx *store.Tx) (err error) {
			texts, err = tx.Inbox(phone, c.shown)
			return err
		})
		if err != nil {
			return err
		}
		for _, m := range texts {
			c.shown = max(c.shown, m.ID)
			fmt.Fprintf(w.out, "  would be sent to %s:\n%s\n", m.To, indented(m.Text))
		}
	}
	return nil
}

func indented(s string) string {
	return "    " + strings.ReplaceAll(strings.TrimRight(s, "\n"), "\n", "\n    ")
}
