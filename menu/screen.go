package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

// ScreenID is the name of a screen. Saved sessions contain it.
type ScreenID string

// Screen is one step of the dialogue. A screen may have a head, a question, choices and a typed answer. The head says
// what was understood or gives news; if an entry is refused, the reason replaces the head.
type Screen struct {
	ID      ScreenID
	Head    func(*scene) string    // nil: the screen has no head
	Ask     text.Key               // the question
	Args    func(*scene) text.Args // values that the question names; nil: no values
	List    func(*scene) []Choice  // choices made from the records, listed before Choices
	Choices []Choice
	Typed   *Typed

	When  func(*scene) bool             // the screen is shown only if When returns true; nil: always
	Else  ScreenID                      // the screen that is shown instead if When returns false
	Jump  func(*scene) (ScreenID, bool) // names a screen to show instead, e.g. if a list has one entry; may be nil
	Shown func(*scene)                  // stores in the session what the screen is about to show; may be nil
	// Stale names an earlier question whose answer is too old by now for the act of a choice, and says why. That
	// question is then asked again. May be nil.
	Stale func(*scene) (ScreenID, *Refusal)

	Root bool // the back key is refused on this screen: there is no screen before
	Rest bool // the grower has left nothing unfinished here: a dialogue that drops on this screen is not resumed
	Last bool // the dialogue ends with this screen
}

// Choice is one numbered line of a screen, and what happens if the grower types its digit.
type Choice struct {
	Digit byte // set by choices: the place of the choice on the screen as this grower sees it
	Label text.Key
	Args  text.Args
	If    func(*scene) bool     // the choice is offered only if If returns true; nil: always
	Set   map[Field]string      // answers that the choice stores in the session
	Prep  func(*scene) *Refusal // changes only the session, so the back key may return past the choice; may be nil
	// Tell stores what the choice itself says. The back key may return past it, because telling it twice changes
	// nothing more; may be nil.
	Tell func(*scene) error
	Do   Act      // changes the records, so the back key must not return past the choice; may be nil
	To   ScreenID // next screen; sBefore is the screen from which the dialogue came
}

// Typed says how a screen reads an answer in the grower's own words or numbers, and what happens then.
type Typed struct {
	Read    reader // reads the entry; if the entry is likely a typing mistake, the menu asks whether it is right
	Do      Act
	To      ScreenID
	Name    bool     // any words may be the answer, so a keyword counts only if it is the whole text
	Sides   bool     // the answer may be two sides of a field, which are two entries in a dialled path
	Samples []string // entries of each kind, with the longest of each kind: the proof types all of them
}

// Act changes the records. If an Act returns a Refusal, the grower is shown the reason and the dialogue stays on its
// screen. An error means that the service has failed.
type Act func(*scene) (*Refusal, error)

// Field is the name of an answer in a session. A field that only one file of screens uses is declared in that file.
type Field string

const (
	fPlot    Field = "plot"    // number of the plot that the dialogue is about
	fMethod  Field = "method"  // an engine.Method as a number
	fPlanted Field = "planted" // an engine.Day as a number
	fRow     Field = "row"     // row spacing in cm
	fHill    Field = "hill"    // hill spacing in cm
	fTool    Field = "tool"    // width in cm; for an adjustable tool, the narrowest setting
	fToolMax Field = "toolmax" // widest setting in cm; 0 if the tool is not adjustable
	fArea    Field = "area"    // area in m2
	fUnit    Field = "unit"    // index of Options.Units

	// These fields hold a size as the grower typed it, like the fields of answer.Size.
	fSizeN    Field = "sizen"
	fSizeA    Field = "sizea"
	fSizeB    Field = "sizeb"
	fSizeUnit Field = "sizeunit"

	fOn     Field = "on"     // day of a weeding: an engine.Day
	fWith   Field = "with"   // an engine.Means as a number
	fWay    Field = "way"    // an engine.Way as a number
	fLeft   Field = "left"   // weeds that the weeding left: an engine.Amount
	fLeaves Field = "leaves" // an engine.Leaves as a number
	fAmount Field = "amount" // an engine.Amount as a number
	fRows   Field = "rows"   // an engine.Rows as a number
	fHours  Field = "hours"
	fGoal   Field = "goal" // the purpose for which a plot is being chosen

	// FieldPage is the shown page of a list made of records, counted from 0. It may change when the grower goes back to
	// the screen before, because it is not an answer of the grower.
	FieldPage Field = "page"
)

// Channel is the way in which a dialogue reaches the phone: USSD or SMS.
type Channel uint8

// A dialogue uses one of these channels.
const (
	USSD Channel = iota + 1
	SMS
)

// String returns "ussd" or "sms", the names that records and logs use.
func (c Channel) String() string {
	if c == SMS {
		return "sms"
	}
	return "ussd"
}

// Note is a text that is sent in addition to the reply, to this phone unless it says otherwise.
type Note struct {
	Kind, Text string
	Former     bool   // the text goes to the phone that had the records before
	Person     int64  // the circle.Member to whom the text goes; 0: no other person
	Once       string // names what a text to a person tells: a second text about the same is not sent; "" = always sent

	// A text to a person of a circle may ask something. Ask is the circle.Ask that the text asks or answers; 0: none.
	// The caller stores Prompt as the open question of that person, if there is none, when the text is sent. A text
	// without Prompt tells the person to dial.
	Ask       int64
	Prompt    []byte
	PromptEnd engine.Day // last day on which Prompt can be answered
}

// Reply is what the phone shows next.
type Reply struct {
	Text   string
	Screen ScreenID // the screen that Text shows
	More   bool     // false if the network should end the session after Text
	Send   []Note   // texts that the caller must put into the outbox

	Refused bool // the entry was refused, and the reply says why
	Resumed bool // the reply asks whether to resume the dialogue that the caller passed in
}

func day(n int) engine.Day { return engine.Day(n) }
