package season

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"

	"rowbell/cmd/rowbell-load/stack"
)

// readLogs looks at what the processes printed: nothing went wrong in the season, so there is no error, and no line has
// the number of a grower.
func (w *world) readLogs() error {
	logs, err := filepath.Glob(filepath.Join(w.o.Folder, "log-*.txt"))
	for _, path := range logs {
		f, openErr := os.Open(path)
		if openErr != nil {
			return openErr
		}
		err = errors.Join(err, w.readLog(f), f.Close())
	}
	return err
}

func (w *world) readLog(log io.Reader) error {
	number := strings.Trim(stack.Phone(0).E164(), "+0") // how all numbers of growers begin
	lines := bufio.NewScanner(log)
	lines.Buffer(nil, longestLine)
	for lines.Scan() {
		var said struct{ Level string }
		switch err := json.Unmarshal(lines.Bytes(), &said); {
		case err != nil, said.Level == "error", said.Level == "fatal", said.Level == "panic":
			w.found.add("the log says %s", lines.Text())
		case strings.Contains(lines.Text(), number):
			w.found.add("the log has the number of a grower: %s", lines.Text())
		}
	}
	return lines.Err()
}

const longestLine = 1 << 20
