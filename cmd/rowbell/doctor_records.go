package main

// records looks at the database file.
func (c *checkup) records() {}

// disk looks at the room there is.
func (c *checkup) disk() {}

// clock looks at whether this machine's clock can be right.
func (c *checkup) clock() {
	const area = "clock"
	if clockUnset() {
		c.note(area, "Run a time service, such as chrony or systemd-timesyncd.", "it is %s; nothing on this machine keeps it right", c.now.Format("2 Jan 2006 15:04:05 UTC"))
		return
	}
	c.well(area, "it is %s", c.now.Format("2 Jan 2006 15:04:05 UTC"))
}

// gateways looks at each network.
func (c *checkup) gateways(offline bool) {}
