package booklet

import (
	"slices"

	"rowbell/menu"
)

// These limits for chapters are numbers of screens. A chapter of more than maxChapter screens is split: each answer of
// its first screen that leads to at least minChapter screens gets a chapter of its own.
const (
	maxChapter = 26
	minChapter = 5
)

// plan is the menu as a tree of screens. The parent of a screen is the screen before it on the way with the fewest
// steps from the home screen.
type plan struct {
	t        *tour
	placed   map[menu.ScreenID]bool // screens that are already in the tree
	children map[menu.ScreenID][]branch
	roots    []menu.ScreenID // screens besides the home screen that a dialogue may begin with, first call first
}

// branch is an answer and one of the screens that it leads to.
type branch struct {
	by *answer
	to menu.ScreenID
}

// part is a chapter whose screens have no numbers yet. The field by is the answer that leads to the chapter, and from
// is the screen with this answer. In the first chapter by is nil. The field screens has the screens in order.
type part struct {
	by      *answer
	from    menu.ScreenID
	screens []menu.ScreenID
}

// newPlan builds the tree from the screens that the tour has seen.
func newPlan(t *tour) *plan {
	p := &plan{t: t, placed: map[menu.ScreenID]bool{}, children: map[menu.ScreenID][]branch{}}
	p.grow(menu.ScreenHome)
	roots := []menu.ScreenID{menu.ScreenFirstLanguage} // the first call begins here if there are several languages
	for _, s := range t.m.Screens() {
		if s.Root {
			roots = append(roots, s.ID)
		}
	}
	for _, id := range roots {
		if t.screens[id] != nil && !p.placed[id] {
			p.roots = append(p.roots, id)
			p.grow(id)
		}
	}
	for id, branches := range p.children {
		answers := t.screens[id].all()
		slices.SortStableFunc(branches, func(a, b branch) int {
			return slices.Index(answers, a.by) - slices.Index(answers, b.by)
		})
	}
	return p
}

// grow adds to the tree every screen that can be reached from root and is not in the tree yet, the screens with the
// fewest steps from root first. A step that the first sample grower never made counts as 1 + unusualCost steps.
func (p *plan) grow(root menu.ScreenID) {
	const unusualCost = 3
	type leaf struct {
		under menu.ScreenID
		branch
		cost int
	}
	p.placed[root] = true
	var queue []leaf
	reach := func(id menu.ScreenID, cost int) {
		for _, a := range p.t.screens[id].all() {
			for _, to := range a.to {
				l := leaf{id, branch{a, to.id}, cost + 1}
				if !to.usual {
					l.cost += unusualCost
				}
				queue = append(queue, l)
			}
		}
	}
	for reach(root, 0); len(queue) > 0; {
		next := slices.MinFunc(queue, func(a, b leaf) int { return a.cost - b.cost })
		queue = slices.DeleteFunc(queue, func(l leaf) bool { return l.to == next.to })
		if p.placed[next.to] {
			continue
		}
		p.placed[next.to] = true
		p.children[next.under] = append(p.children[next.under], next.branch)
		reach(next.to, next.cost)
	}
}

// below returns a screen and all screens below it in the tree, in the order of the answers.
func (p *plan) below(id menu.ScreenID) []menu.ScreenID {
	ids := []menu.ScreenID{id}
	for _, b := range p.children[id] {
		ids = append(ids, p.below(b.to)...)
	}
	return ids
}

// parts returns the chapters in order. The first chapter has the screens before the home screen, then the home screen,
// and then the other screens on which a dialogue may begin.
func (p *plan) parts() []part {
	parts := p.cut(part{}, menu.ScreenHome)
	first := &parts[0]
	for i, root := range p.roots {
		if i == 0 {
			first.screens = append(p.below(root), first.screens...)
			continue
		}
		first.screens = append(first.screens, p.below(root)...)
	}
	return parts
}

// cut makes one or several chapters from a screen and all screens below it. head has the answer that leads to the first
// of these chapters.
func (p *plan) cut(head part, id menu.ScreenID) []part {
	if all := p.below(id); len(all) <= maxChapter {
		head.screens = all
		return []part{head}
	}
	parts := []part{head}
	parts[0].screens = []menu.ScreenID{id}
	for _, b := range p.children[id] {
		below := p.below(b.to)
		opened := slices.IndexFunc(parts, func(o part) bool { return o.by == b.by })
		switch {
		case opened > 0: // this answer already has a chapter, for another screen: use the same chapter
			more := p.cut(part{}, b.to)
			parts[opened].screens = append(parts[opened].screens, more[0].screens...)
			parts = append(parts, more[1:]...)
		case len(below) < minChapter, b.by.key == "", b.by.listed: // too few screens, or no words for a title
			parts[0].screens = append(parts[0].screens, below...)
		default:
			parts = append(parts, p.cut(part{by: b.by, from: id}, b.to)...)
		}
	}
	return parts
}
