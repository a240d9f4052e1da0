// Package signal turns what a diver wants to say under water into hand signals
// and back: numbers and messages, by the convention that a group has agreed,
// and judges whether what was signalled is what the gauge showed.
//
// It owns conventions, gestures and their pictures, the judging of a gas check,
// drill scripts and practice. It must not know who the divers are, when they
// dive or how much gas they need: readings and a seed come in, signs, verdicts
// and findings go out.
//
// Signals differ by region and training organisation. Nothing here replaces
// what the instructor in charge agrees with the group before the dive.
package signal
