package menu

// first is the screen that a dialogue begins with.
func (c *scene) first() ScreenID {
	switch {
	case c.b.Silent():
		return sWho
	case c.b.Known():
		return sHome
	case c.s.Lang == "" && len(c.cat.Languages()) > 1:
		return sTongue
	}
	return sWelcome
}
