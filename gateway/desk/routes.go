package desk

import "slices"

// allRoutes returns the table of routes. Each page adds its own.
func (d *Desk) allRoutes() []route {
	return slices.Concat(
		d.morningRoutes(),
		d.loginRoutes(),
		d.growerRoutes(),
		d.plotRoutes(),
		d.conversationRoutes(),
		d.selfRoutes(),
		d.importRoutes(),
		d.exportRoutes(),
		d.staffRoutes(),
		d.trailRoutes(),
		d.circleRoutes(),
		d.placeRoutes(),
		d.networkRoutes(),
		d.helpRoutes(),
		d.eventRoutes(),
		d.practiceRoutes(),
		d.reportRoutes(),
		d.letterRoutes(),
		d.textRoutes(),
	)
}
