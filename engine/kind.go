package engine

import "fmt"

// Kind is what a reminder is about. A new kind needs a constant and a row in kinds, from which the store, the bell
// (which sends the reminders) and the menu read all that they need.
type Kind uint8

const (
	KindPrepare Kind = iota + 1 // before a window for the tool: look at the weeds; before hand-weeding: find people
	KindOpen
	KindNudge
	KindLastDays
	KindMissed
	KindClosed
	KindMoved // the weather, or a newly learned weed rate, moved a window that was announced

	endOfKinds // one past the last kind
)

// Question is what a reminder asks. It decides what a one-digit answer means.
type Question uint8

const (
	AskNothing Question = iota
	AskPass             // was the plot weeded? The question is valid until the window closes
	AskByHand           // was the missed window weeded by hand?
	AskLook             // how many leaves do most weeds have?
)

// kindRow describes a kind of reminder.
type kindRow struct {
	name      string // name of the kind in the records, in logs and in the keys of texts
	rank      int    // 1 = most urgent; orders the reminders that one grower gets on one morning
	atNight   bool   // may also be sent during quiet hours
	question  Question
	announces bool // names the days of a window, which then stay until another reminder moves them
}

var kinds = [...]kindRow{
	// The text before a window for the tool asks a question, the text before a hand-weeding asks none; see
	// Reminder.Question.
	KindPrepare:  {name: "prepare", rank: 6, question: AskLook},
	KindOpen:     {name: "open", rank: 3, question: AskPass, announces: true},
	KindNudge:    {name: "nudge", rank: 4, question: AskPass, announces: true},
	KindLastDays: {name: "last-days", rank: 1, question: AskPass, announces: true},
	KindMissed:   {name: "missed", rank: 5, question: AskByHand},
	KindClosed:   {name: "closed", rank: 7},
	// A text about a moved window asks only while this window is open; see Reminder.Question.
	KindMoved: {name: "moved", rank: 2, question: AskPass, announces: true},
}

// If the last kind has no row in kinds, the package does not compile.
var _ [endOfKinds]kindRow = kinds

// Kinds lists every kind of reminder.
func Kinds() []Kind {
	var list []Kind
	for k := Kind(1); k < endOfKinds; k++ {
		list = append(list, k)
	}
	return list
}

// ParseKind returns the kind with this name; false if there is none.
func ParseKind(name string) (Kind, bool) {
	for _, k := range Kinds() {
		if kinds[k].name == name {
			return k, true
		}
	}
	return 0, false
}

func (k Kind) row() kindRow {
	if k < endOfKinds {
		return kinds[k]
	}
	return kindRow{}
}

func (k Kind) String() string {
	if name := k.row().name; name != "" {
		return name
	}
	return fmt.Sprintf("%d?", uint8(k))
}

// Rank orders the reminders that one grower gets on one morning: 1 is sent first.
func (k Kind) Rank() int { return k.row().rank }

// AtNight reports whether the kind may also be sent during quiet hours.
func (k Kind) AtNight() bool { return k.row().atNight }

// AsksOfWeeds reports whether a text of this kind asks something that the grower can answer with a leaf count.
func (k Kind) AsksOfWeeds() bool {
	q := k.row().question
	return q != AskNothing && q != AskByHand
}

// Announces reports whether a text of this kind names the days of a window.
func (k Kind) Announces() bool { return k.row().announces }
