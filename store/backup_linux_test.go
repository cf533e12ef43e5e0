package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// smallDisk mounts a file system with a size in kilobytes, and returns its folder.
func smallDisk(t *testing.T, kilobytes string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+kilobytes+"k"); err != nil {
		t.Skipf("a small disk cannot be mounted here: %v", err)
	}
	t.Cleanup(func() { ok(t, syscall.Unmount(dir, 0)) })
	return dir
}

// On a full disk, a backup leaves no partial file, and a failed restore leaves the records unchanged.
func TestBackupAndRestoreOnAFullDisk(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	disk := smallDisk(t, "128") // too small even for an empty database
	to := filepath.Join(disk, "backup.db")
	_, err := Backup(ctx, s.path, to, BackupOptions{})
	var told *OpenError
	errorIf(t, !errors.As(err, &told) || !strings.Contains(err.Error(), "the disk of the backup is full"),
		"backup: %v", err)
	files, _ := os.ReadDir(disk)
	errorIf(t, len(files) > 0, "left behind: %v", files)

	backup := backupOf(t, s)
	shut(t, s)
	info, err := os.Stat(backup)
	ok(t, err)
	disk = smallDisk(t, fmt.Sprint(info.Size()*3/2/1024)) // enough for one database, but not for two
	records := filepath.Join(disk, "rowbell.db")
	ok(t, copyFile(backup, records))
	before, err := os.ReadFile(records)
	ok(t, err)
	_, err = Restore(ctx, RestoreOptions{From: backup, To: records, Now: noon + day, Aside: records + ".aside"})
	errorIf(t, !errors.As(err, &told) || !strings.Contains(err.Error(), "the disk is full"), "restore: %v", err)
	after, err := os.ReadFile(records)
	errorIf(t, err != nil || string(after) != string(before), "the records are not as they were: %v", err)
	nothingUnfinished(t, disk)
}

// A backup to a read-only folder fails at once, and the error says that the folder is read-only.
func TestBackupToAReadOnlyFolder(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	disk := smallDisk(t, "64")
	if err := syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Skipf("the disk cannot be made read-only: %v", err)
	}
	_, err := Backup(ctx, s.path, filepath.Join(disk, "backup.db"), BackupOptions{})
	errorIf(t, !errors.Is(err, syscall.EROFS) || !strings.Contains(err.Error(), "can be written"), "%v", err)
}
