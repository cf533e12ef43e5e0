package menu

import "rowbell/engine/circle"

// CircleRecords are the records of the circle of a grower. A grower is a member of at most one circle, and may be a
// guest of others. Who changes a circle must be a member of it (for some changes the keeper): the methods return
// circle.ErrNotAllowed otherwise. A change that touches the turns makes the service plan the circle again.
type CircleRecords interface {
	// Circle returns the circle of which the grower is a member or has asked to be one; false if there is none.
	Circle() (circle.Circle, bool, error)
	// FindCircle returns another circle by its number. Of its members only the keeper is in it, without the phone.
	FindCircle(number int) (circle.Circle, bool, error)
	// MakeCircle makes a circle with this grower as keeper. words are what the grower agreed to: that members see name
	// and number. They are stored with channel and day.
	MakeCircle(name, words string) (number int, err error)
	// JoinCircle asks the keeper, and stores the words that the grower agreed to.
	JoinCircle(number int, name, words string) (circle.Ask, error)
	LeaveCircle() error // the only keeper of a circle with other members must hand it over first: circle.ErrKeeper
	// RemoveMember makes another member leave the circle of which this grower is the keeper.
	RemoveMember(id int64) error

	AddSharedTool(circle.SharedTool) (id int64, err error)
	ChangeSharedTool(circle.SharedTool) error
	RemoveSharedTool(id int64) error

	// Wish stores what the member says of the turn of a plot, for the window of that turn.
	Wish(plotNo int, window int, w circle.Wish) error

	// Ask stores a question to another person of a circle. Before that it ends an open question of the same kind about
	// the same. A guest is added to the circle with name and words.
	Ask(a circle.Ask, name, words string) (circle.Ask, error)
	// AnswerAsk answers a question to this grower and does what a yes means. Amount is what the grower asks for a
	// weeding, otherwise 0. It returns the question with its new state; of AskWeeding with a yes it returns the
	// AskOffer that goes to who asked. It returns circle.ErrAskOver if the question is over, or what it is about has
	// changed.
	AnswerAsk(id int64, yes bool, amount int64) (circle.Ask, error)
	// OpenAsks are the open questions to this grower, in all circles, oldest first.
	OpenAsks() ([]circle.Ask, error)
	// SentAsks are the open questions of this grower to others, in all circles, oldest first. The question to join a
	// circle is not among them: LeaveCircle takes it back.
	SentAsks() ([]circle.Ask, error)
	// TakeBackAsk ends one of the SentAsks. It returns circle.ErrAskOver if the question is over.
	TakeBackAsk(id int64) error
	// Person returns a person of a circle by id, for texts to that person.
	Person(id int64) (circle.Member, error)
	// Prompted reports whether a person was asked something by text and has not answered it. A digit in reply to
	// another question could then be misunderstood.
	Prompted(id int64) (bool, error)

	// Accounts returns the accounts of the grower as a member and as a guest, by the number of the circle.
	Accounts() (map[int]circle.Account, error)
	// TakeBack writes an entry against an entry in which this grower, or for the keeper the circle, is the creditor.
	TakeBack(entry int64) error
}
