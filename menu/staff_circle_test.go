package menu

import (
	"errors"
	"testing"

	"rowbell/engine/circle"
	"rowbell/menu/notebook"
)

// oneNote checks that one text goes to this person, and returns it.
func oneNote(t *testing.T, notes []Note, err error, to int64) Note {
	t.Helper()
	if err != nil || len(notes) != 1 || notes[0].Person != to || notes[0].Kind != "circle" {
		t.Fatalf("%+v, %v; want one text to person %d", notes, err, to)
	}
	return notes[0]
}

// A tool that staff note as broken for a member is broken for the circle, and its hirer reads the same text as when the
// member says so by dial.
func TestStaffMendATool(t *testing.T) {
	m, b := newMenu(), withGuest(1, true)
	const hire = "Ana: tool 1, Mon 30 Nov to Tue 1 Dec"
	notes, err := m.MendTool(b, 1, true)
	if n := oneNote(t, notes, err, 4); n.Text != hire+": it is broken." || !b.Circles.Own.Tools[0].Broken {
		t.Errorf("%+v, tools %+v", n, b.Circles.Own.Tools)
	}
	if notes, err := m.MendTool(b, 1, true); !errors.Is(err, circle.ErrAskOver) || len(notes) > 0 {
		t.Errorf("noted twice: %+v, %v", notes, err)
	}
	notes, err = m.MendTool(b, 1, false)
	if n := oneNote(t, notes, err, 4); n.Text != hire+": it is repaired." || b.Circles.Own.Tools[0].Broken {
		t.Errorf("%+v, tools %+v", n, b.Circles.Own.Tools)
	}
	if notes, err := m.MendTool(b, 2, true); err != nil || len(notes) > 0 || !b.Circles.Own.Tools[1].Broken {
		t.Errorf("a tool that nobody has hired: %+v, %v", notes, err)
	}
	for name, of := range map[string]*notebook.Book{"a tool of nobody": b, "a grower without a circle": knownBook()} {
		if notes, err := m.MendTool(of, 9, true); !errors.Is(err, circle.ErrNoCircle) || len(notes) > 0 {
			t.Errorf("%s: %+v, %v", name, notes, err)
		}
	}
}

// Both sides hear of an entry that staff take back, each in the own language; who wants no texts hears nothing.
func TestStaffTakeBackAnEntry(t *testing.T) {
	m, b := everyMenu(), withAccount()
	b.Circles.Own.Members[1].Language = "fr"
	entry := b.Circles.Account[5268].Entries[0]
	notes, err := m.TakeBackEntry(b, 5268, entry)
	if err != nil || len(notes) != 2 || notes[0].Person != 2 || notes[1].Person != 1 {
		t.Fatalf("%+v, %v", notes, err)
	}
	if wants(t, notes[0].Text, "Ana +447700900101 a annulé: mar 24 nov", "120"); notes[0].Once != "sms.circle-back:1" {
		t.Errorf("to the debtor: %+v", notes[0])
	}
	if wants(t, notes[1].Text, "Tue 24 Nov, day of the tool: 120", "It is not owed any more."); notes[1].Once !=
		"desk.back:1" {
		t.Errorf("to the creditor: %+v", notes[1])
	}
	if back := b.Circles.Account[5268].Entries[0]; back.Corrects != 1 || back.Amount != 12000 {
		t.Errorf("the newest entry is %+v", back)
	}
	quiet := withAccount()
	quiet.Circles.Own.Members[0].Stopped = true
	notes, err = m.TakeBackEntry(quiet, 5268, entry)
	oneNote(t, notes, err, 2)
	entry.ID = 77
	if notes, err := m.TakeBackEntry(b, 5268, entry); !errors.Is(err, circle.ErrNoCircle) || len(notes) > 0 {
		t.Errorf("an entry that there is not: %+v, %v", notes, err)
	}
}
