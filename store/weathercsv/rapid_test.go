package weathercsv

import _ "rowbell/engine/rapidseed" // makes every run of the property tests draw the same random values
