package gateway

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"time"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// A repeat of a callback gets the stored reply of the first and does nothing twice: the reply is stored with
// the call's key in the transaction that did the work. A call is recognised as a repeat by, in this order,
//
//   - its webhook-id or the network's id of the call, as long as callbacks are
//     stored (store.CallbackRetention);
//   - its step, or the whole session's text, within stepRepeats;
//   - the sessionTrace of its session, where the network sends neither.

// stepRepeats is how long an equal step of an equal session is a repeat.
// Networks repeat within minutes, and use session ids again later.
const stepRepeats = time.Hour

// callbackKey returns the key under which a callback's reply is stored: its kind and a hash of the parts,
// which contain ids of the network's choice and the phone number. With the number in the key, a network that
// mixes up ids cannot show one grower's screen to another.
func callbackKey(parts ...string) string {
	h := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return parts[0] + ":" + hex.EncodeToString(h[:16])
}

// idsRepeatSince is the instant since which an equal id means an equal call.
func (c *call) idsRepeatSince() int64 { return c.now.Unix() - store.CallbackRetention }

// setKey sets the call's key, and since when a reply stored under that key makes the call a repeat. id and step are
// the network's; stepped reports whether it sent a step. Two equal entries
// without any of these are two entries: a grower may press 1 twice.
func (u *ussdCall) setKey(c *call, id string, step int, stepped bool) {
	phone := u.phone.E164()
	switch {
	case c.webhookID != "":
		u.key, u.since = callbackKey("ussd", "id", phone, c.webhookID), c.idsRepeatSince()
	case id != "":
		u.key, u.since = callbackKey("ussd", "call", phone, id), c.idsRepeatSince()
	case stepped:
		u.key = callbackKey("ussd", u.event, phone, u.session, strconv.Itoa(step))
		u.since = c.now.Add(-stepRepeats).Unix()
	case c.network.USSD.Whole && u.event != profile.End:
		u.key = callbackKey("ussd", "whole", phone, u.session, u.sent) // the text so far identifies the step
		u.since = c.now.Add(-stepRepeats).Unix()
	}
}

// sessionTrace is stored for a session whose calls do not say which event they are or contain the whole
// session's text. It is enough to tell the first call, an entry and a repeat apart, and to find what was
// added to the text. It stores hashes of what was typed, and is erased with the phone's records.
type sessionTrace struct {
	LastBytes int             `json:"heard"`           // length of the last call's entry field
	LastHash  []byte          `json:"sum"`             // hash of the last call's entry field
	FirstHash []byte          `json:"first"`           // hash of the first call's entry field
	Entered   bool            `json:"moved,omitempty"` // an entry came after the first call
	Ended     bool            `json:"over,omitempty"`  // our last reply released the session
	Reply     json.RawMessage `json:"reply"`           // our reply to the last call
}

func hashEntry(s string) []byte {
	h := sha256.Sum256([]byte(s))
	return h[:16]
}

func (t *sessionTrace) equalsFirst(u *ussdCall) bool {
	return string(t.FirstHash) == string(hashEntry(u.sent))
}

func traceKey(u *ussdCall) string { return callbackKey("thread", u.phone.E164(), u.session) }

// classify sets the event and the entry of a call from the trace of its session. For a repeat it returns the
// stored reply; otherwise the trace, to be saved with the reply, or a nil trace for the end of a session.
func (g *Gateway) classify(tx *store.Tx, c *call, u *ussdCall) (t *sessionTrace, reply []byte, err error) {
	if u.event == profile.End {
		return nil, nil, nil
	}
	t = new(sessionTrace)
	stored, known, err := tx.StoredReply(c.network.Name, traceKey(u), c.now.Add(-stepRepeats).Unix())
	if err != nil {
		return nil, nil, err
	}
	if known {
		if err := json.Unmarshal(stored, t); err != nil {
			return nil, nil, err
		}
	}
	if u.event == "" {
		if t.isRepeat(u, known, c.network.USSD.Begins) {
			return nil, t.Reply, nil
		}
		u.event = t.eventOf(u, known, c.network.USSD.Begins)
	}
	if c.network.USSD.Whole {
		return g.classifyWhole(c, u, t, known)
	}
	if u.event == profile.Begin && u.dialled == "" && strings.HasPrefix(u.sent, "*") {
		u.dialled = u.sent // the first entry is the dialled code
	}
	return t, nil, nil
}

// classifyWhole is classify for a network whose calls contain the text of the
// whole session so far: what was added to the last call's text is the entry.
func (g *Gateway) classifyWhole(c *call, u *ussdCall, t *sessionTrace, known bool) (*sessionTrace, []byte, error) {
	separator := c.network.USSD.Separator
	continues := known && t.LastBytes <= len(u.sent) &&
		string(hashEntry(u.sent[:t.LastBytes])) == string(t.LastHash)
	if u.event == profile.Begin || !known || t.Ended {
		// The first call that is known of this session: all of its text was dialled, or answered screens of a
		// session that was since forgotten. Text that continues an ended session was answered already and is
		// not applied again: only the code counts.
		text := u.sent
		if u.event != profile.Begin && continues && t.LastBytes > 0 {
			text = ""
		}
		u.event, u.dialled = profile.Begin, dialledPath(u.dialled, g.o.DialCode, text, separator)
		return t, nil, nil
	}
	added := u.sent[min(t.LastBytes, len(u.sent)):]
	if continues && added == "" {
		return nil, t.Reply, nil
	}
	if t.LastBytes > 0 && continues {
		// Only the separator in front is cut off: an entry may contain it, such as the area 20*30.
		added, continues = strings.CutPrefix(added, separator)
	}
	if !continues {
		const detail = "This does not go on from what was entered before in this session."
		return nil, nil, problem.New(http.StatusBadRequest, detail).At(c.network.USSD.Entry.At)
	}
	u.entry = added
	return t, nil, nil
}

// isRepeat reports whether a call without an event repeats the last or the first
// call of its session, or comes after the session's end.
func (t *sessionTrace) isRepeat(u *ussdCall, known bool, begins profile.Begins) bool {
	switch {
	case !known:
		return false
	case begins == profile.BeginsNewSession && t.Ended:
		return true // whatever it contains, the session has ended
	case t.Ended:
		return u.sent != "" && string(t.LastHash) == string(hashEntry(u.sent))
	case !t.Entered:
		return t.equalsFirst(u)
	}
	// An empty field or the dialled code is no entry: such a call gets the present screen again.
	return t.equalsFirst(u) && (u.sent == "" || u.sent[0] == '*')
}

// eventOf returns the event of a call without one that is not a repeat.
func (t *sessionTrace) eventOf(u *ussdCall, known bool, begins profile.Begins) string {
	newSession := begins == profile.BeginsNewSession && !known
	noEntry := begins == profile.BeginsNoEntry && u.sent == "" && (!known || t.Ended)
	if newSession || noEntry {
		return profile.Begin
	}
	return profile.Entry
}

// save stores the trace with the reply to this call, under the phone whose records the reply may contain.
func (t *sessionTrace) save(tx *store.Tx, c *call, u ussdCall, owner store.Phone, ended bool, reply []byte) error {
	next := sessionTrace{
		LastBytes: len(u.sent), LastHash: hashEntry(u.sent), FirstHash: t.FirstHash,
		Entered: u.event == profile.Entry, Ended: ended, Reply: reply,
	}
	if u.event == profile.Begin {
		next.FirstHash = next.LastHash
	}
	b, err := json.Marshal(next)
	if err != nil {
		return err
	}
	return tx.StoreReply(c.network.Name, traceKey(&u), owner, b, c.now.Unix())
}

// dialledPath returns the code that leads to where the entries in text lead, such as *123*1*5# for the text
// 1*5. dialled is the code that the network sent, if any; code is the configured one.
func dialledPath(dialled, code, text, separator string) string {
	switch {
	case text == "":
		return dialled
	case strings.HasPrefix(text, "*") && strings.HasSuffix(text, "#"):
		return text // a whole code
	}
	base := strings.TrimSuffix(cmp.Or(dialled, code), "#")
	path := "*" + strings.Join(strings.Split(text, separator), "*")
	if dialled != "" && strings.HasSuffix(base, path) {
		return dialled // the network sends the path in both fields
	}
	return base + path + "#"
}
