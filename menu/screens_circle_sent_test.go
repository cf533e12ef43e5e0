package menu

import (
	"testing"

	"rowbell/engine/circle"
)

// TestOwnQuestionTakenBack checks that a grower sees the own open questions and takes one back, and that a digit of the
// other is then told that something was changed.
func TestOwnQuestionTakenBack(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1")
	p.lacks("your own questions")
	p.enter("1", "4", "1", "1").wants("We ask Ben.")
	n := p.sent()
	p.enter("00", "5", "1").wants("6 your own questions")
	p.enter("6").wants("You asked Ben: exchange of Wed 25 Nov and Fri 27 Nov. There is no answer", "1 take it back")
	p.enter("1").wants("Taken back. Ben cannot answer it any more.")
	if a := p.b.Circles.Sent[0]; a.State != circle.AskObsolete || len(p.last.Send) != 0 {
		t.Errorf("%+v, sent %+v", a, p.last.Send)
	}
	p.enter("00", "5", "1").lacks("your own questions")

	x := wasAsked(t, inRing(2), p.b.Circles.Sent[0], n)
	x.b.Circles.Open = nil
	x.plays("1 => Something was changed after our text, so nothing is done.")
}

// TestOwnQuestionsBesideOthers checks that own questions are found while another waits for the grower's answer.
func TestOwnQuestionsBesideOthers(t *testing.T) {
	b := inRing(1)
	b.Circles.Open = []circle.Ask{{ID: 9, Kind: circle.AskKeeper, Circle: 5268, From: 2, To: 1, Until: wednesday + 1}}
	b.Circles.Sent = []circle.Ask{{ID: 10, Kind: circle.AskKeeper, Circle: 5268, From: 1, To: 2, Until: wednesday + 1},
		{ID: 11, Kind: circle.AskKeeper, Circle: 5268, From: 1, To: 3, Until: wednesday + 1}}
	p := caller(t, b).enter("5", "1").wants("1 questions to you")
	p.lacks("your own questions")
	p.enter("1").wants("Ben +447700900102 asks", "3 your own questions")
	p.enter("3").wants("1 Ben: new keeper", "2 Cho: new keeper")
	p.enter("2", "1").wants("Taken back. Cho cannot answer it any more.")
}
