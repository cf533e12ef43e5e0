package simulate

// must returns the value v, or panics if there is an error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
