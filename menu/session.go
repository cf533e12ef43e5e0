package menu

import (
	"encoding/json"
	"errors"
	"maps"
	"math"
	"strconv"
)

// session is where a dialogue stands. It is saved as one version byte and
// JSON; nobody but this file knows that form.
type session struct {
	Lang    string           `json:"l,omitempty"`
	Screen  ScreenID         `json:"s"`
	Page    int              `json:"g,omitempty"` // of a screen too long for one
	Trail   []ScreenID       `json:"t,omitempty"` // screens before this one, for back
	Answers map[Field]string `json:"a,omitempty"`
	Refused bool             `json:"r,omitempty"` // under the reason not all of the screen had room
	Paused  bool             `json:"p,omitempty"` // asked whether to go on or start again
	Doubt   *doubt           `json:"d,omitempty"` // an entry that may be a slip
}

// sessionVersion changes when saved sessions can no longer be read; those of
// another version start again, and the grower is told.
const sessionVersion = 2

// Bounds that keep a saved session small whatever is typed.
const (
	maxTrail   = 24
	maxSession = 4096
)

var (
	errSession = errors.New("menu: not a session")
	errVersion = errors.New("menu: a session of another version of the menu")
)

func (s *session) encode() ([]byte, error) {
	b, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	return append([]byte{sessionVersion}, b...), nil
}

func decodeSession(b []byte) (*session, error) {
	if len(b) < 2 || len(b) > maxSession {
		return nil, errSession
	}
	if b[0] != sessionVersion {
		return nil, errVersion
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
	x, err := strconv.ParseFloat(s.Answers[f], 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// push remembers the screen for back; the oldest step is forgotten first.
func (s *session) push(id ScreenID) {
	if len(s.Trail) == maxTrail {
		s.Trail = append(s.Trail[:1], s.Trail[2:]...)
	}
	s.Trail = append(s.Trail, id)
}

// clone is a copy that can be gone back to.
func (s *session) clone() *session {
	t := *s
	t.Trail = append([]ScreenID(nil), s.Trail...)
	t.Answers = nil
	t.putAll(s.Answers)
	return &t
}
