package doctor

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
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

// Recording is a set of recorded requests of a network, and when and whence
// they come.
type Recording struct {
	Network string
	Files   []string // in the order in which they are played
	From    string   // the address of the caller; "": this machine
	Now     time.Time
}

// errRefused is what Replay returns where a request would not be accepted.
var errRefused = errors.New("not all of it would be accepted: see above")

// Replay prints how recorded requests would be decoded and answered, and the
// texts that they would send, on records that are removed at the end. Signed
// requests are played at the time in their signature. Nothing is sent.
func Replay(ctx context.Context, out io.Writer, c config.Config, env func(string) string, rec Recording) (err error) {
	networks, err := c.Networks(env)
	if err != nil {
		return err
	}
	p, err := named(networks, rec.Network)
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "rowbell-sample-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	c.DB, c.Backup, c.Limits = filepath.Join(dir, "sample.db"), nil, config.Limits{}
	r := replay{out: out, network: p, clock: clock.New(rec.Now), from: net.JoinHostPort("127.0.0.1", "1")}
	if rec.From != "" {
		r.from = net.JoinHostPort(rec.From, "1")
	}
	r.service, err = service.Start(ctx, c, service.Options{Networks: networks, Clock: r.clock, Log: zerolog.Nop()})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.service.Close()) }()
	accepted := true
	for _, file := range rec.Files {
		ok, err := r.play(ctx, file)
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		accepted = accepted && ok
	}
	if !accepted {
		return errRefused
	}
	return nil
}

// named returns the network of this name.
func named(networks []profile.Profile, name string) (*profile.Profile, error) {
	var names []string
	for i, n := range networks {
		if n.Name == name {
			return &networks[i], nil
		}
		names = append(names, n.Name)
	}
	return nil, fmt.Errorf("there is no network called %s; there are %s", name, strings.Join(names, ", "))
}

// replay plays recorded requests, one after the other, on one service.
type replay struct {
	out     io.Writer
	network *profile.Profile
	clock   *clock.Manual
	from    string // the address of the caller, with a port
	service *service.Service
	shown   int64 // the last message of the outbox that was printed
}

// play prints one request and its answer. ok reports that it would be accepted.
func (r *replay) play(ctx context.Context, file string) (ok bool, err error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return false, err
	}
	req, err := gateway.ReadSample(raw)
	if err != nil {
		return false, err
	}
	r.setClock(req)
	req.RemoteAddr = r.from
	fmt.Fprintf(r.out, "%s\n", filepath.Base(file))
	u, err := gateway.Understand(*r.network, req, r.clock.Now())
	if err != nil {
		fmt.Fprintf(r.out, "  would be refused: %v\n\n", err)
		return false, nil
	}
	r.printUnderstood(u)
	var answer gateway.Rehearsal
	r.service.Handler().ServeHTTP(&answer, req.WithContext(ctx))
	fmt.Fprintf(r.out, "  would be answered:\n%s\n", indented(answer.String()))
	if err := r.printQueued(ctx, u); err != nil {
		return false, err
	}
	fmt.Fprintln(r.out)
	return u.Denied == nil && u.Wrong == nil, nil
}

// setClock moves the clock to the time that a signed request carries.
func (r *replay) setClock(req *http.Request) {
	if r.network.Trust == nil || !r.network.Trust.Signs() {
		return
	}
	if at, err := strconv.ParseInt(req.Header.Get("webhook-timestamp"), 10, 64); err == nil && at > 0 {
		r.clock.Set(time.Unix(at, 0).UTC())
	}
}

// printUnderstood prints what the network's description makes of a request.
func (r *replay) printUnderstood(u gateway.Understood) {
	if u.Denied != nil {
		fmt.Fprintf(r.out, "  the caller would not be let in: %v\n", u.Denied)
	} else {
		fmt.Fprintln(r.out, "  the caller would be let in")
	}
	for _, f := range u.Fields {
		switch {
		case f.Wrong != "":
			fmt.Fprintf(r.out, "  %-9s%-28s%s\n", f.Name, f.At, f.Wrong)
		case f.At == "":
			fmt.Fprintf(r.out, "  %-9snot described\n", f.Name)
		case f.Value == "":
			fmt.Fprintf(r.out, "  %-9s%-28snot there\n", f.Name, f.At)
		case f.Name == "phone":
			fmt.Fprintf(r.out, "  %-9s%-28s%s\n", f.Name, f.At, store.Phone(f.Value)) // masked
		default:
			fmt.Fprintf(r.out, "  %-9s%-28s%q\n", f.Name, f.At, f.Value)
		}
	}
	event := u.Event
	if event == "" {
		event = map[string]string{
			"ussd": "the earlier calls of the session decide", "sms": "a text", "receipt": "nothing that is recorded",
		}[u.Kind]
	}
	fmt.Fprintf(r.out, "  %s: %s\n", u.Kind, event)
}

// printQueued prints the texts that a request has put into the outbox.
func (r *replay) printQueued(ctx context.Context, u gateway.Understood) error {
	for _, f := range u.Fields {
		if f.Name != "phone" {
			continue
		}
		phone, err := gateway.ParsePhone(f.Value, r.network.CountryCode)
		if err != nil {
			continue // printUnderstood has printed why
		}
		var texts []store.Message
		err = r.service.Store().View(ctx, func(tx *store.Tx) (err error) {
			texts, err = tx.Inbox(phone, r.shown)
			return err
		})
		if err != nil {
			return err
		}
		for _, m := range texts {
			r.shown = max(r.shown, m.ID)
			fmt.Fprintf(r.out, "  would be sent to %s:\n%s\n", m.To, indented(m.Text))
		}
	}
	return nil
}

func indented(s string) string {
	return "    " + strings.ReplaceAll(strings.TrimRight(s, "\n"), "\n", "\n    ")
}
