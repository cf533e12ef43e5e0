package desk

import (
	"bytes"
	"encoding/json"
	"slices"
	"time"

	"rowbell/store"
)

// keyLetterCount is the key of the count of a letter's growers in a session.
const keyLetterCount = "letter-count"

const (
	// countFor is how long a request counts for whom a letter is. A page that then has not counted all of them says so,
	// and the next request goes on.
	countFor = 100 * time.Millisecond
	// countLasts is for how long a count is used on, so that the pages of one letter do not count again and again. The
	// outbox applies STOP and the caps anew to each text.
	countLasts = 15 * time.Minute
)

// keptCount is a count in a session, so that any process of the service can go on with it.
type keptCount struct {
	Filter store.LetterFilter
	Count  store.LetterCount
}

// countLetter counts for whom a letter is, as far as one request may. It goes on with the count of the session if that
// is for the same growers; fresh begins a count that is done again.
func (r *request) countLetter(f store.LetterFilter, fresh bool) (store.LetterCount, error) {
	kept, err := r.keptCount(f)
	if err != nil || kept.Done && !fresh {
		return kept, err
	}
	if kept.Done {
		kept = store.LetterCount{}
	}
	for end := r.d.now().Add(countFor); !kept.Done; {
		if err := r.view(func(tx *store.Tx) (err error) {
			kept, err = tx.CountLetter(kept, f, r.now.Unix())
			return err
		}); err != nil {
			return kept, err
		}
		if r.d.now().After(end) {
			break
		}
	}
	packed, err := json.Marshal(keptCount{f, kept})
	if err == nil {
		r.d.sessions.Put(r.Context(), keyLetterCount, packed)
	}
	return kept, err
}

// keptCount returns the count of the session; an empty one if it is for other growers, or too old.
func (r *request) keptCount(f store.LetterFilter) (store.LetterCount, error) {
	packed := r.d.sessions.GetBytes(r.Context(), keyLetterCount)
	if len(packed) == 0 {
		return store.LetterCount{}, nil
	}
	var kept keptCount
	if err := json.Unmarshal(packed, &kept); err != nil {
		return store.LetterCount{}, err
	}
	was, err := json.Marshal(kept.Filter)
	if err != nil {
		return store.LetterCount{}, err
	}
	is, err := json.Marshal(f)
	if err != nil || !bytes.Equal(was, is) || r.now.Sub(time.Unix(kept.Count.At, 0)).Abs() > countLasts {
		return store.LetterCount{}, err
	}
	return kept.Count, nil
}

// forgetCount drops the count of the session, after which the next letter is counted anew.
func (r *request) forgetCount() { r.d.sessions.Remove(r.Context(), keyLetterCount) }

// carried returns all that was typed, in fields that carry it to the next request, while the count goes on.
func (r *request) carried() []hiddenField {
	var names []string
	for name := range r.form.Values {
		if !slices.Contains([]string{"do", "chosen", "confirm"}, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return r.hidden(names...)
}
