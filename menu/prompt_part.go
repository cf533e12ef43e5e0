package menu

// partly answers a grower who says that only a part of the plots is weeded. share is the part; 0 if it was not told.
func (c *scene) partly(p prompt, _ []subject, _ float64) answered {
	return answered{kind: "reply", text: c.askedText(p), next: &p, until: c.today() + handDays}
}
