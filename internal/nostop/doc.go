// Package nostop has how long dives may last without a decompression stop, what earlier dives of a
// day change, and how long to wait before flying or going to altitude. Its figures are those of the
// tables of the US Navy Diving Manual, Revision 7 (SS521-AG-PRO-010, December 2016), and the flying
// intervals of the DAN workshop of May 2002.
//
// It owns the tables (every cell is a file in tables/, with its source and its doubts), the
// procedure for a sequence of dives of one person, and its findings. It must not know people,
// sessions, gas or clocks: its input is dives with their times, its output numbers and reasons.
//
// # To the safe side
//
// The tables are for air. A depth is converted at 0.3048 m to the foot, which is more feet of sea
// water than the same pressure would be (10 m of sea water, 1 bar, are 32.8 ft but 32.6 fsw at 33
// fsw to the atmosphere), and fresh water is taken as sea water; then the next deeper row counts.
// The whole time between time in and time out is taken as bottom time, though the manual's ends
// with the start of the ascent. A minute begun under water counts whole, a minute not ended on the
// surface does not count. Enriched air is planned as if it were air. The manual's exception by
// which a short interval may count less than the residual nitrogen time is not used.
//
// A dive outside the tables (longer than its limit, deeper than 190 fsw, at altitude) is refused as
// a plan. Once it has happened it is accepted: the group after it is not known and is set to Z, and
// no further dive is planned from these tables for 24 hours.
//
// Nothing here calls a dive safe. See Advice.
package nostop

// Advice is the caution that goes with every result of this package.
const Advice = "Planning by table, not a promise: people get decompression sickness within table limits. " +
	"Local law, the training organisation and the instructor in charge come first."
