// Package signal turns numbers and messages into hand signals and back, by the convention that a
// group has agreed, and judges whether a diver signalled what the gauge showed.
//
// It owns conventions, gestures and their pictures, the judging of a gas check, drill scripts and
// practice. It must not know who the divers are, when they dive or how much gas they need. Its
// input is readings and a seed; its output is signs, verdicts and findings.
//
// Signals differ by region and training organisation. Nothing here replaces the agreement of the
// instructor in charge with the group before the dive.
package signal
