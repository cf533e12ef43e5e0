package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"rowbell/store"
)

// smallDisk returns what runs a command with a disk of its own of this size at
// the folder, and skips the test where nothing may mount one.
func smallDisk(t *testing.T, folder, size string) []string {
	t.Helper()
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	const mount = `mount -t tmpfs -o "size=$1" tmpfs "$0" && shift && exec "$@"`
	var said []string
	for _, how := range []string{"-m", "-Urm"} { // as root, or as root of a user namespace
		wrap := []string{"unshare", how, "sh", "-c", mount, folder, size}
		out, err := exec.Command(wrap[0], append(wrap[1:], "true")...).CombinedOutput()
		if err == nil {
			return wrap
		}
		said = append(said, fmt.Sprintf("unshare %s: %v %s", how, err, bytes.TrimSpace(out)))
	}
	t.Skipf("no small disk can be mounted here (it needs root, or user namespaces): %s", strings.Join(said, "; "))
	return nil
}

// TestDiskIsFull: where nothing more goes on the disk callbacks get 503 and when
// to come again, /readyz names the disk, and both end by themselves when there
// is room; what was acknowledged is there, once.
func TestDiskIsFull(t *testing.T) {
	p := newProcess(t)
	disk := filepath.Join(p.dir, "disk")
	p.wrap = smallDisk(t, disk, "4m")
	p.db = filepath.Join(disk, "rowbell.db")
	p.start(time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC))
	inside := filepath.Join("/proc", fmt.Sprint(p.cmd.Process.Pid), "root", disk) // the disk, as the process sees it

	text := func(n, status int) {
		t.Helper()
		p.post("sms", map[string]any{"id": fmt.Sprint(n), "phone": fictional(n).E164(), "text": "menu"}, status)
	}
	dial := func(n, status int) {
		t.Helper()
		p.post("ussd", map[string]any{"phone": fictional(n).E164(), "session": "s", "step": 0, "event": "begin",
			"dialled": "*123#"}, status)
	}
	ready := func(status int, lines ...string) {
		t.Helper()
		resp, err := p.http.Get(p.base + "/readyz")
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		said := p.read("/readyz")
		if resp.StatusCode != status {
			t.Errorf("/readyz: %d, want %d\n%s", resp.StatusCode, status, said)
		}
		for _, line := range lines {
			if !strings.Contains(said, "\n"+line) {
				t.Errorf("/readyz does not say %q\n%s", line, said)
			}
		}
		if strings.Contains(said, disk) {
			t.Errorf("/readyz tells a path\n%s", said)
		}
	}
	for n := 1; n <= 10; n++ {
		text(n, http.StatusAccepted)
		dial(n, http.StatusOK)
	}
	ready(http.StatusOK, "records: ok", "disk of the records: ok")

	for round := range 2 {
		fill := filepath.Join(inside, "fill")
		fillDisk(t, fill)
		for range 3 {
			text(20+round, http.StatusServiceUnavailable)
		}
		dial(20+round, http.StatusServiceUnavailable)
		dial(1, http.StatusOK) // a repeat needs no room
		// Of the log a little may be left that was allotted before, enough for
		// the write of a look; the disk is red all the same.
		ready(http.StatusServiceUnavailable, "disk of the records: 0 KB of 4096 KB are left: make room\n")
		if _, said, code := runCommand("health", "--url", p.base+"/readyz"); code != 1 ||
			!strings.Contains(said, "disk of the records: 0 KB of 4096 KB are left: make room") {
			t.Errorf("rowbell health: %d %s", code, said)
		}
		if after := retryAfter(t, p); after == "" {
			t.Error("a callback is not told when to come again")
		}
		if err := os.Remove(fill); err != nil {
			t.Fatal(err)
		}
		ready(http.StatusOK, "records: ok", "disk of the records: ok")
		text(20+round, http.StatusAccepted)
		dial(20+round, http.StatusOK)
	}
	if log := p.log.String(); !strings.Contains(log, `"why":"the disk is full: make room on it"`) {
		t.Error("the log does not say why")
	}

	// The disk is gone with the process: what a crash just now would leave.
	left := filepath.Join(t.TempDir(), "rowbell.db")
	for _, suffix := range []string{"", "-wal"} {
		b, err := os.ReadFile(filepath.Join(inside, "rowbell.db"+suffix))
		if err == nil {
			err = os.WriteFile(left+suffix, b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	s, err := store.Open(t.Context(), left, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.IntegrityCheck(t.Context()); err != nil {
		t.Error(err)
	}
	err = s.View(t.Context(), func(tx *store.Tx) error {
		for _, n := range []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 20, 21} {
			texts, err := tx.Inbox(fictional(n), 0)
			if err != nil {
				return err
			}
			_, talks, err := tx.Session(fictional(n), "ussd")
			if len(texts) != 1 || !talks || err != nil {
				t.Errorf("grower %d: %d answers, a session is %v, %v", n, len(texts), talks, err)
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

// fillDisk writes a file until nothing more goes on its disk.
func fillDisk(t *testing.T, file string) {
	t.Helper()
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for block := make([]byte, 4096); ; {
		_, err := f.Write(block)
		if errors.Is(err, syscall.ENOSPC) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// retryAfter is when a callback that is not worked now is told to come again.
func retryAfter(t *testing.T, p *process) string {
	t.Helper()
	body, err := json.Marshal(map[string]any{"id": "later", "phone": fictional(30).E164(), "text": "menu"})
	if err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequest(http.MethodPost, p.base+"/in/local/sms", bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+p.token)
	req.Header.Set("Content-Type", "application/json")
	resp, err := p.http.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("a callback on a full disk: %d", resp.StatusCode)
	}
	return resp.Header.Get("Retry-After")
}
