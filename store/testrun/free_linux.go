package testrun

import "syscall"

// free returns how many bytes are free in a folder, or 0 if the folder cannot be written.
func free(folder string) uint64 {
	const mayWrite = 2
	var s syscall.Statfs_t
	if syscall.Access(folder, mayWrite) != nil || syscall.Statfs(folder, &s) != nil {
		return 0
	}
	return s.Bavail * uint64(s.Bsize)
}
