package booklet

import (
	"slices"

	"rowbell/menu"
)

// A chapter of more than maxChapter screens is split: the answers of its first screen that open at least minChapter
// screens get chapters of their own.
const (
	maxChapter = 20
	minChapter = 5
)

// plan is the menu as a tree: each screen is a child of the screen from which it is reached in the fewest steps,
// counted from home.
type plan struct {
	t        *tour
	placed   map[menu.ScreenID]bool // screens that are in the tree
	children map[menu.ScreenID][]branch
	roots    []menu.ScreenID // other screens where a dialogue may begin, first contact first
}

// branch is an answer and a child that it leads to.
type branch struct {
	by *answer
	to menu.ScreenID
}

// part is a chapter before its screens are numbered: the screens in order, and the answer (by, on the screen from)
// that opens the chapter; by is nil for the first chapter.
type part struct {
	by      *answer
	from    menu.ScreenID
	screens []menu.ScreenID
}

// newPlan builds the tree of the screens that the tour has seen.
func newPlan(t *tour) *plan {
	p := &plan{t: t, placed: map[menu.ScreenID]bool{}, children: map[menu.ScreenID][]branch{}}
	p.grow(menu.ScreenHome)
	roots := []menu.ScreenID{menu.ScreenFirstLanguage} // first contact begins here, if there are several languages
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

// grow adds to the tree all screens below a root that are not in it yet, near ones first. A way that only other
// sample growers than the first one go counts as several steps.
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

// below lists a screen and all below it, in the order of the answers.
func (p *plan) below(id menu.ScreenID) []menu.ScreenID {
	ids := []menu.ScreenID{id}
	for _, b := range p.children[id] {
		ids = append(ids, p.below(b.to)...)
	}
	return ids
}

// parts are the chapters in order. The first chapter has the screens before home, home, and at its end the other
// screens where a dialogue may begin.
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

// cut makes one chapter or several from the tree below a screen. head says which answer opens the first of them.
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
		case opened > 0: // the answer leads to one screen or to another
			parts[opened].screens = append(parts[opened].screens, below...)
		case len(below) < minChapter, b.by.digit == 0, b.by.listed: // a list has no words of its own
			parts[0].screens = append(parts[0].screens, below...)
		default:
			parts = append(parts, p.cut(part{by: b.by, from: id}, b.to)...)
		}
	}
	return parts
}
