package main

import (
	"net/http"
	"path/filepath"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// A disk that takes no more is the network's to wait for: 503, nothing half
// done, and no restart needed once there is room again.
func TestNoRoomOnDisk(t *testing.T) {
	p := startProcess(t, time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC))
	dial := func(n int, status int) {
		t.Helper()
		p.post("ussd", map[string]any{"phone": fictional(n).E164(), "session": "s", "step": 0, "event": "begin",
			"dialled": "*123#"}, status)
	}
	ready := func(status int) {
		t.Helper()
		resp, err := p.http.Get(p.base + "/readyz")
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		if resp.StatusCode != status {
			t.Errorf("/readyz: %d, want %d", resp.StatusCode, status)
		}
	}
	dial(1, http.StatusOK)
	ready(http.StatusOK)

	var had syscall.Rlimit
	limitFiles(t, p.cmd.Process.Pid, nil, &had)
	limitFiles(t, p.cmd.Process.Pid, &syscall.Rlimit{Cur: 1, Max: had.Max}, nil)
	for range 3 {
		dial(2, http.StatusServiceUnavailable)
	}
	p.post("sms", map[string]any{"id": "1", "phone": fictional(3).E164(), "text": "menu"},
		http.StatusServiceUnavailable)
	dial(1, http.StatusOK) // a repeat needs no room
	ready(http.StatusServiceUnavailable)

	limitFiles(t, p.cmd.Process.Pid, &had, nil)
	dial(1, http.StatusOK)
	dial(2, http.StatusOK)
	p.post("sms", map[string]any{"id": "1", "phone": fictional(3).E164(), "text": "menu"}, http.StatusAccepted)
	ready(http.StatusOK)

	s, err := store.Open(t.Context(), filepath.Join(p.dir, config.DefaultDB), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.IntegrityCheck(t.Context()); err != nil {
		t.Error(err)
	}
	err = s.View(t.Context(), func(tx *store.Tx) error {
		texts, err := tx.Inbox(fictional(3), 0)
		if len(texts) != 1 {
			t.Errorf("%d answers to one text", len(texts))
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// limitFiles reads or sets how long the files of a running process may get.
func limitFiles(t *testing.T, pid int, to, was *syscall.Rlimit) {
	t.Helper()
	_, _, errno := syscall.Syscall6(syscall.SYS_PRLIMIT64, uintptr(pid), syscall.RLIMIT_FSIZE,
		uintptr(unsafe.Pointer(to)), uintptr(unsafe.Pointer(was)), 0, 0)
	if errno != 0 {
		t.Fatalf("the limit cannot be changed: %v", errno)
	}
}
