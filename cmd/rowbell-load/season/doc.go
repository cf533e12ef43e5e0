// Package season plays whole seasons of many growers against a real rowbell process, with a clock that it moves, and
// then looks at what is left of them.
//
// Growers register, answer, stop and start through the callbacks of their networks only. The package never writes to
// the records. After the season it reads them and tells the season of each plot again, day by day, with the engine and
// with what was known on that day: each reminder must be the one that was recorded and the one that came to the phone.
package season
