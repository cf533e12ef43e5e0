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

// A repeated callback gets the stored reply of the first call, and the work is not done twice. For that, the reply is
// stored under the call's key in the same transaction as the work. A repeat is recognised by the first of these values
// that is available:
//
//   - the webhook-id or the network's id of the call, as long as callbacks are stored
//     (store.CallbackRetention);
//   - the call's step, or the text of the whole session, during stepRepeats;
//   - the signature of the call with its time, which only a copy of the call has;
//   - the sessionTrace of the call's session, if the network sends none of these.

// stepRepeats is how long a call with the same step of the same session counts as a repeat. Networks repeat a
// call within minutes, but may use a session id again later for another session.
const stepRepeats = time.Hour

// callbackKey returns the key under which a callback's reply is stored: the kind and a hash of the parts, which are ids
// of the network and the phone number. With the number in the key, a network that confuses its ids cannot show one
// grower's screen to another.
func callbackKey(parts ...string) string {
	h := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return parts[0] + ":" + hex.EncodeToString(h[:16])
}

// idsRepeatSince returns the instant, in Unix seconds, since which an earlier call with the same id makes this call a
// repeat.
func (c *call) idsRepeatSince() int64 { return c.now.Unix() - store.CallbackRetention }

// setKey sets the call's key, and the instant since which a reply stored under the key makes the call a repeat. Without
// an id, a step, the text of the whole session and a signed time, the call gets no key. Two equal entries then count as
// two, because a grower may press 1 twice.
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
		// u.sent is the text of the session so far, which is different in each step of the session.
		u.key = callbackKey("ussd", "whole", phone, u.session, u.sent)
		u.since = c.now.Add(-stepRepeats).Unix()
	case c.once != "":
		u.key, u.since = callbackKey("ussd", "once", phone, c.once), c.idsRepeatSince()
	}
}

// sessionTrace is stored for each session of a network whose calls do not name their event, or contain the text of the
// whole session. The trace shows whether a call is a first call, an entry or a repeat, and which part of the text is
// new. It holds only hashes of what was typed, and is erased with the phone's records.
type sessionTrace struct {
	LastBytes int             `json:"heard"`           // length of the last call's entry field
	LastHash  []byte          `json:"sum"`             // hash of the last call's entry field
	FirstHash []byte          `json:"first"`           // hash of the first call's entry field
	Entered   bool            `json:"moved,omitempty"` // an entry came after the first call
	Ended     bool            `json:"over,omitempty"`  // our last reply ended the session
	Reply     json.RawMessage `json:"reply"`           // our reply to the last call of the session
}

func hashEntry(s string) []byte {
	h := sha256.Sum256([]byte(s))
	return h[:16]
}

func (t *sessionTrace) equalsFirst(u *ussdCall) bool {
	return string(t.FirstHash) == string(hashEntry(u.sent))
}

func traceKey(u *ussdCall) string { return callbackKey("thread", u.phone.E164(), u.session) }

// classify finds the event and the entry of a call by the trace of its session, and sets them in u. For a repeat it
// returns the stored reply; for any other call, the trace that the caller must save with the reply.
func (g *Gateway) classify(tx *store.Tx, c *call, u *ussdCall) (t *sessionTrace, reply []byte, err error) {
	t = new(sessionTrace)
	stored, known, err := tx.StoredReply(c.network.Name, traceKey(u), u.phone, c.now.Add(-stepRepeats).Unix())
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
		u.dialled = u.sent // the first entry of a session is the dialled code
	}
	return t, nil, nil
}

// classifyWhole is classify for a network whose calls contain the text of the whole session. The entry is what was
// added since the last call.
func (g *Gateway) classifyWhole(c *call, u *ussdCall, t *sessionTrace, known bool) (*sessionTrace, []byte, error) {
	separator := c.network.USSD.Separator
	continues := known && t.LastBytes <= len(u.sent) && string(hashEntry(u.sent[:t.LastBytes])) == string(t.LastHash)
	if u.event == profile.Begin || !known || t.Ended {
		// The call begins a session, or the gateway has no trace of the call's session, or the session has ended. The
		// entries in the call's text become a part of the dialled code. If the text continues the text of an ended
		// session, its entries were applied already, so only the code without entries is dialled.
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
		// Only the first separator is cut off, because an entry may contain separators, such as the area 20*30.
		added, continues = strings.CutPrefix(added, separator)
	}
	if !continues {
		const detail = "This does not go on from what was entered before in this session."
		return nil, nil, problem.New(http.StatusBadRequest, detail).At(c.network.USSD.Entry.At)
	}
	u.entry = added
	return t, nil, nil
}

// isRepeat reports whether a call that names no event repeats the last or the first call of its session. With
// BeginsNewSession, every call after the session's end is a repeat too.
func (t *sessionTrace) isRepeat(u *ussdCall, known bool, begins profile.Begins) bool {
	switch {
	case !known:
		return false
	case begins == profile.BeginsNewSession && t.Ended:
		return true // the session has ended, so the call cannot be a new entry
	case t.Ended:
		return u.sent != "" && string(t.LastHash) == string(hashEntry(u.sent))
	case !t.Entered:
		return t.equalsFirst(u)
	}
	// The session has had an entry. A call equal to the session's first call is now a repeat only if its entry field is
	// empty or has a dialled code: such a call contains no entry, so it gets the present screen.
	return t.equalsFirst(u) && (u.sent == "" || u.sent[0] == '*')
}

// eventOf returns the event of a call that names no event and is not a repeat.
func (t *sessionTrace) eventOf(u *ussdCall, known bool, begins profile.Begins) string {
	newSession := begins == profile.BeginsNewSession && !known
	noEntry := begins == profile.BeginsNoEntry && u.sent == "" && (!known || t.Ended)
	if newSession || noEntry {
		return profile.Begin
	}
	return profile.Entry
}

// save stores the trace with the reply to this call. owner is the phone whose records the reply may show; "" = nobody's
// records.
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

// dialledPath returns the USSD code for the entries in text: *123*1*5# for 1*5. dialled is the code that the network
// sent, or ""; code is the configured code.
func dialledPath(dialled, code, text, separator string) string {
	switch {
	case text == "":
		return dialled
	case strings.HasPrefix(text, "*") && strings.HasSuffix(text, "#"):
		return text // the text is a whole code already, such as *123*1*5#
	}
	base := strings.TrimSuffix(cmp.Or(dialled, code), "#")
	path := "*" + strings.Join(strings.Split(text, separator), "*")
	if dialled != "" && strings.HasSuffix(base, path) {
		return dialled // the dialled code contains these entries already
	}
	return base + path + "#"
}
