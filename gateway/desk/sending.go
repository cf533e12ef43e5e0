package desk

import (
	"bytes"
	"fmt"
	"io"
	"net/netip"
	"slices"
	"strconv"
	"strings"

	"rowbell/store"
)

func (d *Desk) holdTexts(r *request) error {
	why := r.form.text("why")
	if mistake := store.HoldReasonMistake(why); mistake != "" {
		r.form.wrong("why", strings.ToUpper(mistake[:1])+mistake[1:]+".")
	}
	if r.form.Get("sure") == "" {
		r.form.wrong("sure", "Tick this, so that nobody stops all texts by a slip.")
	}
	if !r.form.ok() {
		return d.againNetworks(r)
	}
	if err := r.write(func(tx *store.Tx) error {
		was, held, err := tx.SendingHeld()
		if err != nil {
			return err
		}
		before := "texts went out"
		if held {
			before = "held: " + was.Why
		}
		if err := tx.HoldSending(why, r.now.Unix()); err != nil {
			return err
		}
		return tx.Trail(r.entry("held all texts", "sending", before, "held: "+why))
	}); err != nil {
		return err
	}
	return r.to("/desk/networks", "All texts are held. Calls are still answered.")
}

func (d *Desk) releaseTexts(r *request) error {
	released := false
	if err := r.write(func(tx *store.Tx) error {
		was, held, err := tx.SendingHeld()
		if err != nil || !held {
			return err
		}
		if released, err = tx.ReleaseSending(); err != nil || !released {
			return err
		}
		return tx.Trail(r.entry("released all texts", "sending", "held: "+was.Why, "texts go out"))
	}); err != nil {
		return err
	}
	if !released {
		return r.to("/desk/networks", "Texts were not held.")
	}
	return r.to("/desk/networks", "Texts go out again, the most urgent first.")
}

// maxDecided is how many texts in doubt are decided at once, because the service waits for it.
const maxDecided = 500

// decideDoubt sends texts in doubt again, or leaves them: those with the ids of the form, or all.
func (d *Desk) decideDoubt(r *request) error {
	again, all := r.form.Get("do") == "again", r.form.Get("all") != ""
	switch {
	case !again && r.form.Get("do") != "leave":
		r.form.wrong("doubt", "Say whether the texts are sent again or left.")
	case !all && len(r.form.Values["id"]) == 0:
		r.form.wrong("doubt", "Choose texts first.")
	}
	if !r.form.ok() {
		return d.againNetworks(r)
	}
	done := 0
	if err := r.write(func(tx *store.Tx) error {
		done = 0
		now := r.now.Unix()
		list, err := tx.Undecided(now, now, maxDecided)
		if err != nil {
			return err
		}
		for _, m := range list {
			if !all && !slices.Contains(r.form.Values["id"], strconv.FormatInt(m.ID, 10)) {
				continue
			}
			was, err := r.decide(tx, m, again)
			if err != nil {
				return err
			}
			if was {
				done++
			}
		}
		return nil
	}); err != nil {
		return err
	}
	how := "left. A receipt still counts."
	if again {
		how = "to be sent again, within the limits that are set."
	}
	if done == 0 {
		how = "in doubt any more; nothing was changed."
	}
	return r.to("/desk/networks", fmt.Sprintf("%s: %s", plural(done, "text", "texts"), how))
}

func (r *request) decide(tx *store.Tx, m store.Message, again bool) (was bool, err error) {
	what := "left a text in doubt"
	if again {
		what = "sent a text in doubt again"
		was, err = tx.SendAgain(m.ID, r.now.Unix())
	} else {
		was, err = tx.LeaveUnknown(m.ID)
	}
	if err != nil || !was {
		return false, err
	}
	e := r.entry(what, fmt.Sprintf("text %d (%s)", m.ID, m.Kind()), m.Reason, "")
	e.GrowerID = m.GrowerID
	return true, tx.Trail(e)
}

// maxRecorded is how long a recorded request may be, with the rest of its form.
const maxRecorded = 1 << 18

// readRecorded shows what is taken for a recorded request, which was pasted or is in a file.
func (d *Desk) readRecorded(r *request) error {
	recorded, err := r.recorded()
	if err != nil {
		return err
	}
	from := r.form.text("from")
	if _, err := netip.ParseAddr(from); from != "" && err != nil {
		r.form.wrong("from", "This is no address such as 192.0.2.7.")
	}
	if len(recorded) == 0 {
		r.form.wrong("recorded", "Paste a request, or choose a file.")
	}
	if d.o.Networks == nil || !r.form.ok() {
		return d.againNetworks(r)
	}
	v, err := d.networksData(r)
	if err != nil {
		return err
	}
	if v.Read, err = d.o.Networks.Read(r.Context(), r.form.Get("network"), from, recorded); err != nil {
		v.ReadError = err.Error()
	}
	return r.page("networks", "Networks", v)
}

// recorded returns the recorded request of a form. A browser makes each line end of a pasted text a CRLF, so those are
// LF here, and line ends after the text are dropped; a file is taken as it is.
func (r *request) recorded() ([]byte, error) {
	if file, _, err := r.FormFile("file"); err == nil {
		defer file.Close()
		octets, err := io.ReadAll(file)
		if err != nil || len(octets) > 0 {
			return octets, err
		}
	}
	pasted := strings.ReplaceAll(r.form.Get("recorded"), "\r\n", "\n")
	if body := strings.TrimRight(pasted, "\n"); strings.Contains(body, "\n\n") {
		pasted = body
	}
	return bytes.TrimLeft([]byte(pasted), "\n"), nil
}
