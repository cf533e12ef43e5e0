package doctor

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
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

// Recording is a set of recorded requests for Replay, or of recorded answers for Answers.
type Recording struct {
	Network string
	Files   []string // in the order in which they are replayed
	// Recorded is a request that is in no file; if it is set, Files are not read.
	Recorded []byte
	From     string // IP address of the caller; "" means this machine
	Now      time.Time
}

// errRefused is the error that Replay returns if the service would refuse one of the requests.
var errRefused = errors.New("not all of it would be accepted: see above")

// Replay prints how recorded requests would be decoded and answered, and which texts would be sent. It uses temporary
// records and sends nothing.
func Replay(ctx context.Context, out io.Writer, c config.Config, env func(string) string, rec Recording) (err error) {
	networks, err := c.Networks(env)
	if err != nil {
		return err
	}
	network, err := named(networks, rec.Network)
	if err != nil {
		return err
	}
	for i := range networks {
		networks[i].Push.TLS = profile.TLSFiles{} // nothing is sent, so its files need not be on this machine
	}
	dir, err := os.MkdirTemp("", "rowbell-sample-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	c.DB, c.Backup, c.Limits = filepath.Join(dir, "sample.db"), nil, config.Limits{ItemsACall: c.Limits.ItemsACall}
	r := replay{out: out, network: network, clock: clock.New(rec.Now),
		from: net.JoinHostPort(cmp.Or(rec.From, "127.0.0.1"), "1")}
	r.service, err = service.Start(ctx, c, service.Options{Networks: networks, Clock: r.clock, Log: zerolog.Nop()})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.service.Close()) }()
	var accepted bool
	if rec.Recorded != nil {
		accepted, err = r.play(ctx, "the request", rec.Recorded)
	} else {
		accepted, err = r.playFiles(ctx, rec.Files)
	}
	if err != nil {
		return err
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

// replay is a service that gets recorded requests, one after the other.
type replay struct {
	out     io.Writer
	network *profile.Profile
	clock   *clock.Manual
	from    string // IP address of the caller, with a port
	service *service.Service
	shown   int64 // id of the last message in the outbox that was printed
}

// playFiles plays the requests in files. It returns whether all would be accepted.
func (r *replay) playFiles(ctx context.Context, files []string) (accepted bool, err error) {
	accepted = true
	for _, file := range files {
		raw, err := os.ReadFile(file)
		ok := false
		if err == nil {
			ok, err = r.play(ctx, filepath.Base(file), raw)
		}
		if err != nil {
			return false, fmt.Errorf("%s: %w", file, err)
		}
		accepted = accepted && ok
	}
	return accepted, nil
}

// play prints one request with its answer. ok is true if the request would be accepted.
func (r *replay) play(ctx context.Context, name string, raw []byte) (ok bool, err error) {
	req, u, err := r.understand(name, raw)
	if err != nil || req == nil {
		return false, err
	}
	var answer gateway.Rehearsal
	r.service.Handler().ServeHTTP(&answer, req.WithContext(ctx))
	fmt.Fprintf(r.out, "  would be answered:\n%s\n", indented(answer.String()))
	if err := r.printQueued(ctx, u); err != nil {
		return false, err
	}
	fmt.Fprintln(r.out)
	return u.Denied == nil && u.Wrong() == nil && answer.Status < http.StatusBadRequest, nil
}

// understand prints how one request would be decoded. req is nil if it would be refused before it is decoded.
func (r *replay) understand(name string, raw []byte) (req *http.Request, u gateway.Understood, err error) {
	req, err = gateway.ReadSample(raw)
	if err != nil {
		return nil, u, err
	}
	r.setClock(req)
	req.RemoteAddr = r.from
	fmt.Fprintf(r.out, "%s\n", name)
	u, refused := gateway.Understand(*r.network, req, r.clock.Now())
	if refused != nil {
		fmt.Fprintf(r.out, "  would be refused: %v\n\n", refused)
		return nil, u, nil
	}
	r.printUnderstood(u)
	return req, u, nil
}

// setClock sets the clock to the time in the signature of the recorded request, because a signature is valid for a
// short time only.
func (r *replay) setClock(req *http.Request) {
	if r.network.Trust == nil || !r.network.Trust.Signs() {
		return
	}
	// A time far in the future was likely read by a wrong layout. Then the clock stays, and the caller is not let in.
	if at, ok := r.network.Trust.SignedAt(req.Header); ok && at.Before(r.clock.Now().AddDate(1, 0, 0)) {
		r.clock.Set(at.UTC())
	}
}

// printUnderstood prints the decoded request.
func (r *replay) printUnderstood(u gateway.Understood) {
	if u.Denied != nil {
		fmt.Fprintf(r.out, "  the caller would not be let in: %v\n", u.Denied)
		if u.Hint != "" {
			fmt.Fprintf(r.out, "  note: %s\n", u.Hint)
		}
	} else {
		fmt.Fprintln(r.out, "  the caller would be let in")
	}
	for n, i := range u.Items {
		if u.Batch {
			fmt.Fprintf(r.out, "  item %d of %d\n", n+1, len(u.Items))
		}
		r.printItem(u.Kind, i)
	}
	if len(u.Items) == 0 {
		fmt.Fprintln(r.out, "  no item")
	}
}

// printItem prints a decoded text, receipt or USSD call.
func (r *replay) printItem(kind string, u gateway.UnderstoodItem) {
	for _, f := range u.Fields {
		value := strconv.Quote(f.Value)
		switch {
		case f.Wrong != "":
			value = f.Wrong
		case f.At == "":
			fmt.Fprintf(r.out, "  %-9snot described\n", f.Name)
			continue
		case f.Value == "":
			value = "not there"
		case f.Name == "phone":
			value = store.Phone(f.Value).String() // String masks the number
		}
		fmt.Fprintf(r.out, "  %-9s%-28s%s\n", f.Name, f.At, value)
	}
	event := u.Event
	if event == "" {
		event = map[string]string{
			"ussd": "the earlier calls of the session decide", "sms": "a text", "receipt": "nothing that is recorded",
		}[kind]
	}
	fmt.Fprintf(r.out, "  %s: %s\n", kind, event)
	if u.Wrong != nil {
		fmt.Fprintf(r.out, "  would be refused: %v\n", u.Wrong)
	}
	for _, hint := range u.Hints {
		fmt.Fprintf(r.out, "  note: %s\n", hint)
	}
}

// printQueued prints the texts that the request has added to the outbox.
func (r *replay) printQueued(ctx context.Context, u gateway.Understood) error {
	var phones []store.Phone
	for _, i := range u.Items {
		for _, f := range i.Fields {
			phone, err := gateway.ParsePhone(f.Value, r.network.CountryCode)
			// printItem has printed the error of a number that cannot be read.
			if f.Name == "phone" && err == nil && !slices.Contains(phones, phone) {
				phones = append(phones, phone)
			}
		}
	}
	shown := r.shown
	for _, phone := range phones {
		err := r.service.Store().View(ctx, func(tx *store.Tx) error {
			texts, err := tx.Inbox(phone, shown)
			for _, m := range texts {
				r.shown = max(r.shown, m.ID)
				fmt.Fprintf(r.out, "  would be sent to %s:\n%s\n", m.To, indented(m.Text))
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func indented(s string) string {
	return "    " + strings.ReplaceAll(strings.TrimRight(s, "\n"), "\n", "\n    ")
}
