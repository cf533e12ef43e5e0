package roster

import _ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
