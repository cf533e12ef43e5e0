package meter

import "syscall"

// Room is how many bytes of a folder's file system this program may still
// write, and how many there are in all; ok is false where that cannot be told.
func Room(folder string) (free, total int64, ok bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil || s.Blocks == 0 {
		return 0, 0, false
	}
	block := int64(s.Frsize) //nolint:unconvert // 32 bits on some machines
	return int64(s.Bavail) * block, int64(s.Blocks) * block, true
}
