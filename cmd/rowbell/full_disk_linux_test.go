package main

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// smallDisk returns the start of a command line that mounts a small disk at the folder and runs the rest of the line.
// The test is skipped if its user may not mount disks.
func smallDisk(t *testing.T, folder, size string) []string {
	t.Helper()
	must(t, os.Mkdir(folder, 0o700))
	const mount = `mount -t tmpfs -o "size=$1" tmpfs "$0" && shift && exec "$@"`
	var said []string
	for _, how := range []string{"-m", "-Urm"} { // first as root, then as root of a new user namespace
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

// ready checks the status of /readyz and lines of its answer.
func (p *process) ready(status int, lines ...string) {
	p.t.Helper()
	got, page := p.get("/readyz")
	if got != status || strings.Contains(page, p.dir) {
		p.t.Errorf("/readyz: %d, want %d and no path\n%s", got, status, page)
	}
	for _, line := range lines {
		if !strings.Contains(page, "\n"+line) {
			p.t.Errorf("/readyz does not say %q\n%s", line, page)
		}
	}
}

// On a full disk, callbacks get 503 with Retry-After, and /readyz names the disk. When the disk has room again, the
// service works without a restart. Every acknowledged callback is recorded exactly once.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestDiskIsFull(t *testing.T) {
	p := newProcess(t)
	disk := filepath.Join(p.dir, "disk")
	p.wrap = smallDisk(t, disk, "4m")
	p.db = filepath.Join(disk, "rowbell.db")
	p.start(aDay)
	// Only the process sees the mounted disk, so this test uses the path through /proc.
	inside := filepath.Join("/proc", fmt.Sprint(p.cmd.Process.Pid), "root", disk)

	for n := 1; n <= 10; n++ {
		p.text(n, http.StatusAccepted)
		p.dial(n, http.StatusOK)
	}
	p.ready(http.StatusOK, "records: ok", "disk of the records: ok")

	for round := range 2 {
		fill := filepath.Join(inside, "fill")
		fillDisk(t, fill)
		for range 3 {
			p.text(20+round, http.StatusServiceUnavailable)
		}
		p.dial(20+round, http.StatusServiceUnavailable)
		p.dial(1, http.StatusOK) // a repeated callback is answered from the records, so it needs no room
		// /readyz reports the full disk even if its own small write succeeds, because the write-ahead log may have some
		// space left.
		p.ready(http.StatusServiceUnavailable, "disk of the records: 0 KB of 4096 KB are free: make room\n")
		if _, said, code := runCommand("health", "--url", p.base+"/readyz"); code != 1 ||
			!strings.Contains(said, "disk of the records: 0 KB of 4096 KB are free: make room") {
			t.Errorf("rowbell health: %d %s", code, said)
		}
		_, resp, err := p.send("sms", map[string]any{"id": "later", "phone": fictional(30).E164(), "text": "menu"})
		if must(t, err); resp.StatusCode != http.StatusServiceUnavailable || resp.Header.Get("Retry-After") == "" {
			t.Errorf("a callback on a full disk: %s, %v", resp.Status, resp.Header)
		}
		must(t, os.Remove(fill))
		p.ready(http.StatusOK, "records: ok", "disk of the records: ok")
		p.text(20+round, http.StatusAccepted)
		p.dial(20+round, http.StatusOK)
	}
	if log := p.log.String(); !strings.Contains(log, `"why":"the disk is full: make room on it"`) {
		t.Error("the log does not say why")
	}

	// The mounted disk disappears with the process. So the files are copied before, as a crash would leave them.
	left := filepath.Join(t.TempDir(), "rowbell.db")
	for _, suffix := range []string{"", "-wal"} {
		b, err := os.ReadFile(filepath.Join(inside, "rowbell.db"+suffix))
		if err == nil {
			err = os.WriteFile(left+suffix, b, 0o600)
		}
		must(t, err)
	}
	s := openRecords(t, left)
	read(t, s, func(tx *store.Tx) error {
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
}

func fillDisk(t *testing.T, file string) {
	t.Helper()
	f, err := os.Create(file)
	must(t, err)
	defer f.Close()
	for block := make([]byte, 4096); ; {
		_, err := f.Write(block)
		if errors.Is(err, syscall.ENOSPC) {
			return
		}
		must(t, err)
	}
}

// If files cannot grow (EFBIG, not ENOSPC), callbacks get 503, and no part of a callback is recorded. The service
// recovers without a restart.
func TestFilesCannotGrow(t *testing.T) {
	p := startProcess(t, aDay)
	p.dial(1, http.StatusOK)
	p.ready(http.StatusOK)

	var had syscall.Rlimit
	limitFiles(t, p.cmd.Process.Pid, nil, &had)
	limitFiles(t, p.cmd.Process.Pid, &syscall.Rlimit{Cur: 1, Max: had.Max}, nil)
	for range 3 {
		p.dial(2, http.StatusServiceUnavailable)
	}
	p.text(3, http.StatusServiceUnavailable)
	p.dial(1, http.StatusOK) // a repeated callback is answered from the records, so no file has to grow
	p.ready(http.StatusServiceUnavailable)

	limitFiles(t, p.cmd.Process.Pid, &had, nil)
	p.dial(1, http.StatusOK)
	p.dial(2, http.StatusOK)
	p.text(3, http.StatusAccepted)
	p.ready(http.StatusOK)

	s := openRecords(t, filepath.Join(p.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		texts, err := tx.Inbox(fictional(3), 0)
		if len(texts) != 1 {
			t.Errorf("%d answers to one text", len(texts))
		}
		return err
	})
}

// limitFiles sets the greatest file size of a running process to *to, if to is not nil, and stores the previous limit
// in *was, if was is not nil.
func limitFiles(t *testing.T, pid int, to, was *syscall.Rlimit) {
	t.Helper()
	_, _, errno := syscall.Syscall6(syscall.SYS_PRLIMIT64, uintptr(pid), syscall.RLIMIT_FSIZE,
		uintptr(unsafe.Pointer(to)), uintptr(unsafe.Pointer(was)), 0, 0)
	if errno != 0 {
		t.Fatalf("the limit cannot be changed: %v", errno)
	}
}
