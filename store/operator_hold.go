package store

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// SendingHold is an operator's order to stop all sending. While it is on, no text is sent.
type SendingHold struct {
	Why   string `json:"why"`
	Since int64  `json:"since"`
}

// MaxHoldReason is the greatest length of the reason of a hold, in characters.
const MaxHoldReason = 200

var longNumber = regexp.MustCompile(`[0-9]{7}`)

// HoldReasonMistake says what is wrong with the reason of a hold; "" if nothing is. The reason is logged, so it must
// not have a phone number.
func HoldReasonMistake(why string) string {
	switch {
	case strings.TrimSpace(why) == "":
		return "say why texts are held"
	case len([]rune(why)) > MaxHoldReason:
		return fmt.Sprintf("this is longer than %d characters", MaxHoldReason)
	case strings.ContainsFunc(why, func(r rune) bool { return !unicode.IsPrint(r) }):
		return "this is not one line of words"
	case longNumber.MatchString(why):
		return "a phone number does not belong into the log"
	}
	return ""
}

// HoldSending stops all sending until ReleaseSending is called. Waiting texts still expire. If sending is stopped
// already, only the reason changes.
func (tx *Tx) HoldSending(why string, now int64) error {
	on, held, err := tx.SendingHeld()
	if err != nil {
		return err
	}
	if !held {
		on.Since = now
	}
	on.Why = why
	b, err := json.Marshal(on)
	if err != nil {
		return fail("hold sending", err)
	}
	return tx.setMeta(metaSending, b)
}

const sqlDropMeta = `DELETE FROM meta WHERE key = $1`

// ReleaseSending allows sending again, and reports whether sending was stopped before.
func (tx *Tx) ReleaseSending() (was bool, err error) {
	n, err := tx.exec(sqlDropMeta, metaSending)
	return n > 0, fail("release sending", err)
}

// SendingHeld returns the operator hold, and whether it is on.
func (tx *Tx) SendingHeld() (h SendingHold, held bool, err error) {
	b, held, err := tx.meta(metaSending)
	if err == nil && held {
		err = fail("sending held", json.Unmarshal(b, &h))
	}
	return h, held, err
}
