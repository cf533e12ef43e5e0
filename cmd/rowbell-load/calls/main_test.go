package calls

import (
	"testing"

	"rowbell/cmd/rowbell-load/stack/stacktest"
)

func TestMain(m *testing.M) { stacktest.Run(m) }
