package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

// ScreenID names a screen; a saved session remembers it.
type ScreenID string

// Screen is one step of the dialogue. It may have a head (what was understood, or news; the reason of a refusal
// replaces the head), a question, choices, and a typed answer.
type Screen struct {
	ID      ScreenID
	Head    func(*scene) string    // nil: none
	Ask     text.Key               // the question
	Args    func(*scene) text.Args // named values in the question; nil: none
	List    func(*scene) []Choice  // choices made of the records; before Choices
	Choices []Choice
	Typed   *Typed

	When  func(*scene) bool             // the screen is shown only if When returns true; nil: always
	Else  ScreenID                      // screen shown if When returns false
	Jump  func(*scene) (ScreenID, bool) // leads on at once to another screen, e.g. from a list of one; nil: never
	Shown func(*scene)                  // stores in the session what is about to be shown; nil: nothing

	Root bool // no way back from here
	Rest bool // nothing is asked: a dialogue dropped here is not offered again
	Last bool // the dialogue ends with this screen
}

// Choice is one numbered line.
type Choice struct {
	Digit byte
	Label text.Key
	Args  text.Args
	If    func(*scene) bool     // offered only then; nil: always
	Set   map[Field]string      // answers that the choice gives
	Prep  func(*scene) *Refusal // changes the session only, so back may lead over it; nil: nothing
	Do    Act                   // changes the records, so back does not lead over it; nil: nothing
	To    ScreenID              // sBefore: the screen that the dialogue came from
}

// Typed is an answer in the grower's own words or numbers.
type Typed struct {
	Read    reader // reads the entry; a likely slip is asked back
	Do      Act
	To      ScreenID
	Name    bool     // any words may be an answer: only a whole text is a keyword
	Sides   bool     // two sides of a field may be typed: in a dialled path they are two entries
	Samples []string // entries of each kind, the longest among them: the proof types them
}

// Act changes the records. A refusal is told to the grower and leaves the dialogue where it is; an error is a failure
// of the service.
type Act func(*scene) (*Refusal, error)

// Field names an answer that a session holds. A field that only one file of screens uses is declared in that file.
type Field string

const (
	fPlot    Field = "plot"    // number of the plot that the dialogue is about
	fMethod  Field = "method"  // engine.Method
	fPlanted Field = "planted" // engine.Day
	fRow     Field = "row"     // cm
	fHill    Field = "hill"    // cm
	fTool    Field = "tool"    // cm; of an adjustable tool its narrowest setting
	fToolMax Field = "toolmax" // cm, its widest setting; 0: not adjustable
	fArea    Field = "area"    // m2
	fUnit    Field = "unit"    // index of Options.Units
	fOn      Field = "on"      // engine.Day of a weeding
	fWith    Field = "with"    // engine.Means
	fWay     Field = "way"     // engine.Way
	fLeft    Field = "left"    // engine.Amount left standing
	fLeaves  Field = "leaves"  // engine.Leaves
	fAmount  Field = "amount"  // engine.Amount
	fRows    Field = "rows"    // engine.Rows
	fHours   Field = "hours"
	fPage    Field = "page" // page of a list made of records, from 0
	fGoal    Field = "goal" // what a plot is being chosen for
)

// Channel is how a dialogue reaches the phone.
type Channel uint8

// The channels.
const (
	USSD Channel = iota + 1
	SMS
)

// String is "ussd" or "sms", as records and logs have it.
func (c Channel) String() string {
	if c == SMS {
		return "sms"
	}
	return "ussd"
}

// Note is a text to send beside the reply.
type Note struct {
	Kind, Text string
	Former     bool // to the phone that had the records before, not to this one
}

// Reply is what the phone shows next.
type Reply struct {
	Text string
	More bool   // false where the network should release the session
	Send []Note // texts to put into the outbox

	Resumed bool // the dialogue that was handed in is offered again
}

func day(n int) engine.Day { return engine.Day(n) }
