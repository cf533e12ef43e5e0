package fault

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// maxFile is the greatest size of a file that ReadFile reads, in octets. The largest language file has less than a
// hundredth of that.
const maxFile = 16 << 20

// ReadFile reads a file that the operator names. It refuses a pipe and a device: reading one may never end, and the
// service, which reads its files again while it runs, would not get the same octets again.
func ReadFile(path string) ([]byte, error) {
	if info, err := os.Stat(path); err == nil {
		if err := checkFile(info); err != nil {
			return nil, &fs.PathError{Op: "read", Path: path, Err: err}
		}
	}
	return os.ReadFile(path)
}

func checkFile(info fs.FileInfo) error {
	switch {
	case info.IsDir():
		return errors.New("it is a folder; name a file")
	case !info.Mode().IsRegular():
		return errors.New("it is a pipe or a device; name a file")
	case info.Size() > maxFile:
		return fmt.Errorf("it is larger than %d MiB", maxFile>>20)
	}
	return nil
}
