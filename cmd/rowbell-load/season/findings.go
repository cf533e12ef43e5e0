package season

import (
	"fmt"
	"slices"
	"sync"
)

// findings are what must not happen and did.
type findings struct {
	mu    sync.Mutex
	list  []string
	count int
}

// maxListed is how many findings are kept in words.
const maxListed = 200

func (f *findings) add(format string, a ...any) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.count++; len(f.list) < maxListed {
		f.list = append(f.list, fmt.Sprintf(format, a...))
	}
}

func (f *findings) all() (list []string, count int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Sorted(slices.Values(f.list)), f.count
}
