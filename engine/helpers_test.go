package engine

import "fmt"

// must returns the value and panics on an error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// reporter is a *testing.T or a *rapid.T.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

func near(got, want, tolerance float64) bool { return got-want <= tolerance && want-got <= tolerance }

// wantNear fails the test unless got is within tolerance of want. With args, what is a format of fmt.Sprintf.
func wantNear(t reporter, what string, got, want, tolerance float64, args ...any) {
	t.Helper()
	if !near(got, want, tolerance) {
		t.Errorf("%s: got %.6g, want %g within %g", labelled(what, args), got, want, tolerance)
	}
}

// wantEqual fails the test unless got equals want.
func wantEqual[V comparable](t reporter, what string, got, want V, args ...any) {
	t.Helper()
	if got != want {
		t.Errorf("%s: got %+v, want %+v", labelled(what, args), got, want)
	}
}

// labelled returns what, formatted with args. Without args, what may contain a percent sign.
func labelled(what string, args []any) string {
	if len(args) == 0 {
		return what
	}
	return fmt.Sprintf(what, args...)
}
