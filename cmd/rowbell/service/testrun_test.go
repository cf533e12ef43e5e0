package service

import _ "rowbell/store/testrun" // temporary folders in memory, and garbage collected more rarely
