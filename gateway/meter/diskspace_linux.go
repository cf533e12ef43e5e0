package meter

import "syscall"

// DiskSpace returns, for the file system of a folder, the free bytes that this user may write and the total bytes. ok
// is false if they cannot be read.
func DiskSpace(folder string) (free, total int64, ok bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil || s.Blocks == 0 {
		return 0, 0, false
	}
	block := int64(s.Frsize) //nolint:unconvert // int32 on some architectures
	return int64(s.Bavail) * block, int64(s.Blocks) * block, true
}
