//go:build !linux

package meter

// DiskSpace is not known on this system.
func DiskSpace(string) (free, total int64, ok bool) { return 0, 0, false }
