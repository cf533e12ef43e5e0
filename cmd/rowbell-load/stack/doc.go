// Package stack runs rowbell as processes of their own on this machine, with invented growers and a network that takes
// their texts, and disturbs it: processes are killed and suspended, and started again.
//
// Everything stays on this machine: the processes listen on the loopback address, the network does too, and records on
// a server must be at a loopback address or a socket. Numbers of growers have too many digits to belong to anybody.
package stack
