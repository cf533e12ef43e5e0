package meter

import "syscall"

// DiskSpace returns the free and the total bytes of a folder's file system. Only bytes that this user may write
// count as free. ok is false if the system cannot tell.
func DiskSpace(folder string) (free, total int64, ok bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil || s.Blocks == 0 {
		return 0, 0, false
	}
	block := int64(s.Frsize) //nolint:unconvert // int32 on some architectures
	return int64(s.Bavail) * block, int64(s.Blocks) * block, true
}
