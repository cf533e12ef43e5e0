package desk

import (
	"crypto/rand"
	"sync"
	"time"

	"rowbell/store"
)

const (
	// maxUpload is how long a file of growers may be, in octets: 10,000 rows with every column have about half of it.
	maxUpload = 4 << 20
	// keepUploads is how many files wait to be taken. The oldest one goes if another comes.
	keepUploads = 8
	// uploadTime is for how long a file waits.
	uploadTime = 30 * time.Minute
)

// upload is a file of growers that somebody has checked and not taken yet.
type upload struct {
	id      string
	staffID int64
	at      time.Time
	name    string
	place   string // of new growers
	text    []byte
	fates   store.Fates
}

// uploads keep files in memory between the check and the taking, so that what is taken is what was checked. They hold
// people's data, so they go after a short time. Another process of the service does not have them: there the file must
// be chosen again.
type uploads struct {
	mu   sync.Mutex
	list []upload // the oldest one is first
}

// put keeps a file, and returns its new id. Of each account only the last file is kept.
func (u *uploads) put(x upload) string {
	u.mu.Lock()
	defer u.mu.Unlock()
	x.id = rand.Text()
	u.remove(func(o upload) bool { return o.staffID == x.staffID || expired(o, x.at) })
	u.list = append(u.list, x)
	if n := len(u.list); n > keepUploads {
		u.list = append([]upload(nil), u.list[n-keepUploads:]...)
	}
	return x.id
}

// get returns the file with this id, if this account has put it lately.
func (u *uploads) get(id string, staffID int64, now time.Time) (upload, bool) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.remove(func(o upload) bool { return expired(o, now) })
	for _, x := range u.list {
		if x.id == id && x.staffID == staffID {
			return x, true
		}
	}
	return upload{}, false
}

// drop forgets a file.
func (u *uploads) drop(id string) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.remove(func(o upload) bool { return o.id == id })
}

// note replaces the fates of a file by newer ones.
func (u *uploads) note(id string, fates store.Fates) {
	u.mu.Lock()
	defer u.mu.Unlock()
	for i := range u.list {
		if u.list[i].id == id {
			u.list[i].fates = fates
		}
	}
}

func (u *uploads) remove(which func(upload) bool) {
	kept := make([]upload, 0, len(u.list)) // a new slice, so that no removed file stays in memory
	for _, x := range u.list {
		if !which(x) {
			kept = append(kept, x)
		}
	}
	u.list = kept
}

func expired(x upload, now time.Time) bool { return now.Sub(x.at) >= uploadTime }
