package desk

// Routes returns each route of the desk as "METHOD /path", for tests that walk all of them.
func Routes() []string {
	var all []string
	for _, rt := range new(Desk).allRoutes() {
		all = append(all, rt.pattern)
	}
	return all
}
