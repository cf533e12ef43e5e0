package desk

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"

	"rowbell/store"
)

// What a session has, by key.
const (
	keyStaff = "staff" // id of the account
	keyNote  = "note"  // a sentence for the next page
)

// How long sessions last. OWASP recommends an end after some hours even of a session that is in use (Session Management
// Cheat Sheet, from memory); a field worker logs in once a working day.
const (
	sessionLifetime = 12 * time.Hour
	idleTimeout     = 2 * time.Hour
	seenEvery       = 5 * time.Minute // how often the use of a session is stored

	practiceLifetime = 10 * 365 * 24 * time.Hour // in practice the calendar goes on by days
)

// lifetime returns how long a session lasts.
func (d *Desk) lifetime() time.Duration {
	if d.o.Practice {
		return practiceLifetime
	}
	return sessionLifetime
}

// unused reports whether a session was not used for so long that it has ended.
func (d *Desk) unused(s store.StaffSession, now time.Time) bool {
	return !d.o.Practice && now.Unix()-s.SeenAt > int64(idleTimeout.Seconds())
}

// newSessions returns the sessions of this desk. The prefix __Host- makes browsers refuse a cookie without Secure, with
// a domain, or for another path (RFC 6265bis section 4.1.3.2), so that no other site or host can set it.
func (d *Desk) newSessions() *scs.SessionManager {
	// Not scs.New, which starts a goroutine that never ends, one for each new configuration.
	return &scs.SessionManager{
		Store: sessionStore{d}, HashTokenInStore: true, Lifetime: d.lifetime(), Codec: scs.GobCodec{},
		Cookie: scs.SessionCookie{Name: "__Host-rowbell-desk", Path: "/", HttpOnly: true, Secure: true,
			SameSite: http.SameSiteLaxMode},
		ErrorFunc: func(w http.ResponseWriter, _ *http.Request, err error) {
			d.o.Log.Error().Err(err).Msg("desk: a session could not be read or stored")
			http.Error(w, "The records cannot be reached. Try again in a minute.", http.StatusServiceUnavailable)
		},
	}
}

// sessionStore keeps sessions in the records. The tokens that it gets are hashes already.
type sessionStore struct{ d *Desk }

var _ scs.CtxStore = sessionStore{}

// agentKey is the key of the asker in the context of a request.
type agentKey struct{}

// FindCtx implements scs.CtxStore. A session that was not used for long has ended.
func (s sessionStore) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	var session store.StaffSession
	now := s.d.now()
	err = s.d.o.Store.View(ctx, func(tx *store.Tx) error {
		session, found, err = tx.StaffSession(token, now.Unix())
		return err
	})
	if err != nil || !found || s.d.unused(session, now) {
		return nil, false, err
	}
	if by, _ := ctx.Value(agentKey{}).(asker); !by.itself && now.Unix()-session.SeenAt >= int64(seenEvery.Seconds()) {
		err = s.write(ctx, func(tx *store.Tx) error { return tx.SeenStaffSession(token, now.Unix()) })
	}
	return session.Data, true, err
}

// CommitCtx implements scs.CtxStore. The end of a session is by the clock of the desk, and not the expiry of the
// library, which is by the clock of the machine.
func (s sessionStore) CommitCtx(ctx context.Context, token string, data []byte, _ time.Time) error {
	now := s.d.now()
	_, values, err := s.d.sessions.Codec.Decode(data)
	if err != nil {
		return err
	}
	id, _ := values[keyStaff].(int64)
	by, _ := ctx.Value(agentKey{}).(asker)
	return s.write(ctx, func(tx *store.Tx) error {
		return tx.PutStaffSession(store.StaffSession{Hash: token, StaffID: id, Data: data, Agent: by.agent,
			BeganAt: now.Unix(), SeenAt: now.Unix(), Until: now.Add(s.d.lifetime()).Unix()})
	})
}

// DeleteCtx implements scs.CtxStore.
func (s sessionStore) DeleteCtx(ctx context.Context, token string) error {
	return s.write(ctx, func(tx *store.Tx) error { return tx.EndStaffSession(token) })
}

func (s sessionStore) write(ctx context.Context, fn func(*store.Tx) error) error {
	return s.d.o.Store.InTx(context.WithoutCancel(ctx), fn)
}

// Find implements scs.Store.
func (s sessionStore) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

// Commit implements scs.Store.
func (s sessionStore) Commit(token string, data []byte, until time.Time) error {
	return s.CommitCtx(context.Background(), token, data, until)
}

// Delete implements scs.Store.
func (s sessionStore) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }

// hashOf returns the hash under which the store has a token.
func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

// asker is what sends a request.
type asker struct {
	agent  string // what the browser calls itself
	itself bool   // a page asks by itself, and nobody has done anything
}

// byItself is the header of the requests with which a page renews itself.
const byItself = "Rowbell-Renew"

// withAgent notes what sends a request: for the list of sessions, and because a page that renews itself is no use of a
// session, which would else not end on a machine that somebody has left.
func withAgent(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		agent := r.UserAgent()
		by := asker{agent[:min(len(agent), maxAgent)], r.Header.Get(byItself) != "" || r.URL.Path == "/desk/events"}
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), agentKey{}, by)))
	})
}

const maxAgent = 200
