package menu

import (
	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// ScreenID names a screen; it is what a saved session remembers.
type ScreenID string

// Screen is one page of the dialogue: at most a head (read-backs, news; the
// reason of a refused entry takes its place), a question, choices, and what
// may be typed.
type Screen struct {
	ID      ScreenID
	Head    func(*scene) string    // nil: none
	Ask     text.Key               // the question
	Args    func(*scene) text.Args // named values in the question; nil: none
	List    func(*scene) []Choice  // choices made of the grower's records; come before Choices
	Choices []Choice
	Typed   *Typed

	When  func(*scene) bool             // asked only then; nil: always
	Else  ScreenID                      // where to go instead
	Jump  func(*scene) (ScreenID, bool) // goes on at once, where there is nothing to choose
	Shown func(*scene)                  // stores in the session what the screen is about to show; nil: nothing

	Root bool // no way back from here
	Rest bool // nothing is being asked: a session dropped here is not gone on with
	Last bool // the dialogue ends with this screen
}

// Choice is one numbered line.
type Choice struct {
	Digit byte
	Label text.Key
	Args  text.Args
	If    func(*scene) bool     // offered only then; nil: always
	Set   map[Field]string      // answers it gives
	Prep  func(*scene) *Refusal // prepares the session only; back may cross it
	Do    Act                   // effect on the records; no way back over it
	To    ScreenID              // sBefore: the screen that the dialogue came from
}

// Typed is an answer in the grower's own words or numbers.
type Typed struct {
	Parse   func(c *scene, entry string) *Refusal                                 // stores what it understood
	Doubt   func(c *scene, entry string) (about doubtKind, mend map[Field]string) // a likely slip, "" = none; nil: never
	Do      Act
	To      ScreenID
	Name    bool     // any words may be an answer: only a whole text is a keyword
	Sides   bool     // two sides may be an answer: in a dialled path they are two entries
	Samples []string // entries of each kind, the longest among them: the proof walks them
}

// Act changes the records. A refusal is told to the grower and leaves the
// dialogue where it is; an error is not the grower's doing.
type Act func(*scene) (*Refusal, error)

// Field names an answer that a session holds.
type Field string

const (
	fPlot    Field = "plot"   // plot number the dialogue is about
	fMethod  Field = "method" // engine.Method
	fPlanted Field = "planted"
	fRow     Field = "row"
	fHill    Field = "hill"
	fTool    Field = "tool"
	fToolMax Field = "toolmax"
	fArea    Field = "area"
	fUnit    Field = "unit"
	fOn      Field = "on"
	fWith    Field = "with"
	fWay     Field = "way"
	fLeft    Field = "left"
	fLeaves  Field = "leaves"
	fAmount  Field = "amount"
	fRows    Field = "rows"
	fHours   Field = "hours"
	fPage    Field = "page"
	fGoal    Field = "goal" // what a plot is being chosen for
)

// Channel is the way a dialogue travels.
type Channel uint8

const (
	USSD Channel = iota + 1
	SMS
)

func (c Channel) String() string {
	if c == SMS {
		return "sms"
	}
	return "ussd"
}

// Note is a text to send beside the reply.
type Note struct {
	Kind, Text string
	Former     bool // not to this phone: to the one that had the records before
}

// Reply is what the phone shows next.
type Reply struct {
	Text string
	More bool   // false where the network should release the session
	Send []Note // texts to put into the outbox

	Resumed bool // the dialogue handed in is offered again
}

// Options are the operator's settings.
type Options struct {
	DialCode string     // default *123#
	Units    []AreaUnit // at most 5
	StepM    float64    // length of a step; default 0.75 m (common practice, no source)

	// ShiftTables are the national language shift tables that the phones of a
	// language know, by its tag: its texts may be written with them. None by
	// default, and never on USSD, which cannot say which table it uses.
	ShiftTables map[string][]text.Shift
}

// Menu is the whole graph with its texts; immutable, safe for concurrent use.
type Menu struct {
	cat     *text.Catalogue // as screens are spelled
	texts   *text.Catalogue // as texts are
	opt     Options
	units   answer.LocalUnits // of opt
	words   map[string]command
	dates   map[string]answer.DateWords // by language
	screens map[ScreenID]*Screen
	order   []ScreenID
}

// maxUnits keeps the list of units on one screen.
const maxUnits = 5

func day(n int) engine.Day { return engine.Day(n) }
