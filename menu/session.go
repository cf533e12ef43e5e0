package menu

import (
	"encoding/json"
	"errors"
	"maps"
	"strconv"
)

// session is where a dialogue stands. It is saved as one version byte and
// JSON; nobody but this file knows that form.
type session struct {
	Lang    string           `json:"l,omitempty"`
	Screen  ScreenID         `json:"s"`
	Trail   []ScreenID       `json:"t,omitempty"` // screens before this one, for back
	Answers map[Field]string `json:"a,omitempty"`
	Paused  bool             `json:"p,omitempty"` // asked whether to go on or start again
}

// sessionVersion changes when saved sessions can no longer be read; those of
// another version start again.
const sessionVersion = 1

// Bounds that keep a saved session small whatever is typed.
const (
	maxTrail   = 24
	maxSession = 4096
)

var errSession = errors.New("menu: not a session of this version")

func (s *session) encode() ([]byte, error) {
	b, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	return append([]byte{sessionVersion}, b...), nil
}

func decodeSession(b []byte) (*session, error) {
	if len(b) < 2 || len(b) > maxSession || b[0] != sessionVersion {
		return nil, errSession
	}
	s := &session{}
	if err := json.Unmarshal(b[1:], s); err != nil {
		return nil, errSession
	}
	if len(s.Trail) > maxTrail {
		return nil, errSession
	}
	return s, nil
}

func (s *session) put(f Field, v string) {
	if s.Answers == nil {
		s.Answers = map[Field]string{}
	}
	s.Answers[f] = v
}

func (s *session) putAll(m map[Field]string) {
	if s.Answers == nil {
		s.Answers = map[Field]string{}
	}
	maps.Copy(s.Answers, m)
}

func (s *session) int(f Field) int {
	n, _ := strconv.Atoi(s.Answers[f])
	return n
}

func (s *session) float(f Field) float64 {
	x, _ := strconv.ParseFloat(s.Answers[f], 64)
	return x
}

// push remembers the screen for back; the oldest step is forgotten first.
func (s *session) push(id ScreenID) {
	if len(s.Trail) == maxTrail {
		s.Trail = append(s.Trail[:1], s.Trail[2:]...)
	}
	s.Trail = append(s.Trail, id)
}
