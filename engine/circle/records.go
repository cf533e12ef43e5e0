package circle

import (
	"errors"

	"rowbell/engine"
)

// Circle is a circle of growers who share tools, as its records are at one instant.
type Circle struct {
	Number  int          // what growers type to join or to hire
	Self    int64        // the Member who reads the records
	Members []Member     // in the order in which they asked to join, without those who left
	Tools   []SharedTool // in the order in which they were added
	Turns   []HeldTurn   // of today and later, by day, then by tool
	// Asks are open questions to Self or from Self, and offers of a weeding that were agreed and are not done
	// (AskOffer, AskYes). The oldest is first.
	Asks  []Ask
	Waits bool // a new roster will be made within minutes
}

// Member is a grower in a circle, or a guest.
type Member struct {
	ID       int64
	Name     string // the name that the other members see
	Phone    string // E.164; "" if the grower erased the records
	Language string
	Joined   bool // accepted by the keeper
	Keeper   bool // accepts members, and looks after the circle's own tools and money
	Guest    bool // not a member: hires a tool, or has a plot weeded
	Stopped  bool // wants no texts
	Silent   bool // not heard of for so long that another person may have the number: is told no names and numbers
}

// SharedTool is a tool that a circle uses. Amounts of money are in hundredths of the currency of the place.
type SharedTool struct {
	ID        int64
	Name      string // what the members call it; "" = its number in the list
	Owner     int64  // a Member; 0 = the circle
	Tool      engine.Tool
	Price     int64 // what it cost; 0 = not told
	MemberDay int64 // what a member pays for a day; 0 = nothing
	GuestDay  int64 // what a guest pays for a day; 0 = not hired out
	Earned    int64 // what was charged for its days so far
	Broken    bool  // out of use until somebody says that it is mended
}

// HeldTurn is consecutive days of one tool with one member.
type HeldTurn struct {
	Tool, Member int64
	PlotNo       int // number of the plot among the member's plots; 0 for a guest
	From, To     engine.Day
	Window       engine.Window // the window of the plot for which the turn was made; no window for a guest
	Late         bool          // a day of the turn is after the window
	Told         bool          // the member was told
	FetchFrom    int64         // the Member who has the tool before; 0 = where it is kept
	HandTo       int64         // the Member who has it next; 0 = nobody yet
}

// AskKind is what one person of a circle asks another. The other answers yes or no.
type AskKind uint8

const (
	AskJoin     AskKind = iota + 1 // to the keeper: may I join?
	AskKeeper                      // to a member: will you be the keeper?
	AskSwap                        // to a member: my turn on Day for yours on Other?
	AskHire                        // by a guest to the owner or keeper: the tool from Day for Days days at Amount
	AskWeeding                     // to a member: weed AreaM2 for me on Day; the member names Amount with the yes
	AskOffer                       // the member's answer to AskWeeding: for Amount?
	AskWeeded                      // to who asked for the weeding: it is done, and Amount is due
	AskPaid                        // to who is owed: I paid Amount
	AskReceived                    // to who owes: I received Amount
)

func (k AskKind) String() string {
	names := [...]string{"", "join", "keeper", "swap", "hire", "weeding", "offer", "weeded", "paid", "received"}
	if int(k) < len(names) {
		return names[k]
	}
	return "?"
}

// Ask is a question from one person of a circle to another.
type Ask struct {
	ID         int64
	Kind       AskKind
	Circle     int   // number of the circle
	From, To   int64 // Members
	Tool       int64 // a SharedTool; 0 = none
	Day, Other engine.Day
	Days       int
	Amount     int64 // hundredths of the currency
	AreaM2     float64
	ForCircle  bool       // of a payment: it is to or from the circle, for which To, the keeper, answers
	Until      engine.Day // last day on which it can be answered
	State      AskState
}

// Limits of a circle (judgement): planning stays quick, and its lists short enough for a phone.
const (
	MaxMembers     = 30
	MaxSharedTools = 12
	MaxHireDays    = 14
)

// MaxAsksADay is how many questions one person may ask others in a day (judgement).
const MaxAsksADay = 5

// HoldDays is for how many days after a turn its member is taken to have the tool still, and for how many days before
// one it is known to whom the tool goes next (judgement).
const HoldDays = 14

// DialText is the kind of a text in the outbox that asks a person to answer a question by dial.
const DialText = "circle-dial"

// AskState says how a question ended.
type AskState uint8

const (
	AskOpen AskState = iota
	AskYes
	AskNo       // of a payment or a done weeding: disputed; nobody decides it
	AskOver     // not answered in time
	AskObsolete // what it is about has changed, or who asked took it back
)

// Entry is one line of the ledger of a circle: Debtor owes Creditor Amount more than before. Entries are never changed
// or deleted: Corrects names the entry that this one takes back.
type Entry struct {
	ID               int64
	On               engine.Day
	Debtor, Creditor int64 // Members; 0 = the circle
	Amount           int64 // hundredths of the currency, > 0
	Kind             EntryKind
	Tool             int64
	Corrects         int64
}

// EntryKind is what an entry is about.
type EntryKind uint8

const (
	EntryDay     EntryKind = iota + 1 // a day of a tool
	EntryHire                         // a hire by a guest
	EntryWeeding                      // a weeding for somebody
	EntryPayment                      // paid and confirmed by both sides; who paid is the Creditor
)

// Account is what a person sees of the ledger.
type Account struct {
	Self     int64     // the Member who reads it
	Balances []Balance // of each person with a balance or an entry; they sum to zero
	Entries  []Entry   // those of the person who reads it, newest first, at most 20
	Disputed []Ask     // payments and weedings of the person that the other side denied
}

// Balance is what a person is owed (above zero) or owes.
type Balance struct{ Member, Amount int64 }

// Wish is what a member says of the turn of a plot for one window.
type Wish struct {
	ExtraDays int  // tool-days more than calculated
	Skip      bool // no turn for this window
	Ready     bool // the tool is free from tomorrow on, because the work is done
}

// These errors are returned by the records of circles.
var (
	ErrNoCircle   = errors.New("circle: no such circle, tool, turn, person or question")
	ErrNotAllowed = errors.New("circle: not allowed for this member of the circle")
	ErrKeeper     = errors.New("circle: the keeper must hand the circle over before leaving")
	ErrInCircle   = errors.New("circle: the grower is in a circle already")
	ErrManyAsks   = errors.New("circle: the person has asked MaxAsksADay questions today")
	ErrNotFree    = errors.New("circle: the tool is not free on these days, or not for hire")
	ErrFull       = errors.New("circle: MaxMembers members or MaxSharedTools tools are in the circle already")
	ErrAskOver    = errors.New("circle: the question is over")
)
