package service

import (
	"strings"
	"sync/atomic"

	"github.com/rs/zerolog"
)

// libraryLog is the output of Go's standard log, to which libraries write. It logs that they wrote, but not the text:
// net/http, for example, writes what a network sends after the end of its answer, and that may contain a phone number
// or a secret. After the first line it logs at debug level, because a network could otherwise fill the log.
type libraryLog struct {
	log  zerolog.Logger
	told atomic.Bool
}

func (l *libraryLog) Write(b []byte) (int, error) {
	level := zerolog.WarnLevel
	if l.told.Swap(true) {
		level = zerolog.DebugLevel
	}
	message := "a library wrote to the log; its words are not shown, because they may be personal data"
	if strings.HasPrefix(string(b), "Unsolicited response") {
		message = "push: a network sent more than its answer; what came after the end is dropped and not shown"
	}
	l.log.WithLevel(level).Int("octets", len(b)).Msg(message)
	return len(b), nil
}
