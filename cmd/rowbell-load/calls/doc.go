// Package calls loads the service with growers who dial and write texts, and looks at each answer.
//
// The dialogues that growers play are the files in the folder dialogues. They are in the form of the project's readable
// dialogues, and played against the service in its tests too; dates in them move with the day of the run. A grower goes
// on when a text that the dialogue names has come. A call that is not acknowledged comes again until it is, as networks
// do. At the end, everything that was acknowledged must be in the records once.
//
// Growers come by an open loop: a slow service does not keep them away, and a time is counted from the instant at which
// a call was due.
package calls
