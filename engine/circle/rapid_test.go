package circle_test

import (
	_ "rowbell/engine/rapidseed" // the same random values in every run
	_ "rowbell/store/testrun"    // temporary folders in memory, and garbage collected more rarely
)
