package signal

import (
	"slices"

	"tankside/internal/units"
)

// Hands is the number of hands that a sign or a convention takes.
type Hands int

// One or both hands are free for signals.
const (
	OneHand  Hands = 1
	TwoHands Hands = 2
)

// Style is the way in which a number is shown with the hands.
type Style string

// The styles of numbers. All count in steps of 100 psi or 10 bar.
const (
	// Digits: one digit after the other; 2600 psi is 2, then 6.
	Digits Style = "digits"
	// Forearm: tens of steps on the forearm, the rest on both hands; 2600 psi is
	// two on the forearm and six fingers.
	Forearm Style = "forearm"
	// TeeAndRest: a T for 100 bar or for half a tank (1500 psi), then the rest by
	// digits; 170 bar is T, then 7.
	TeeAndRest Style = "tee"
	// Fives: full hands added up, then the rest; 1800 psi is 5, 5, 5 and 3.
	Fives Style = "fives"
)

var styles = []Style{Digits, Forearm, TeeAndRest, Fives}

// Styles returns every style of numbers.
func Styles() []Style { return slices.Clone(styles) }

// Meaning is the message of a gesture that is not a number.
type Meaning string

// The messages. A group agrees some of them; every diver knows the others.
const (
	HowMuchGas    Meaning = "how_much_gas"
	LowOnGas      Meaning = "low_on_gas"
	OutOfGas      Meaning = "out_of_gas"
	ShareGas      Meaning = "share_gas"
	HalfTank      Meaning = "half_tank"
	OnReserve     Meaning = "on_reserve"
	Decompression Meaning = "decompression"
	GoUp          Meaning = "go_up"
	GoDown        Meaning = "go_down"
	OK            Meaning = "ok"
	Stop          Meaning = "stop"
)

var meaningText = map[Meaning]string{
	HowMuchGas: "how much gas?", LowOnGas: "low on gas", OutOfGas: "out of gas", ShareGas: "share gas",
	HalfTank: "half a tank", OnReserve: "on reserve", Decompression: "decompression",
	GoUp: "go up", GoDown: "go down", OK: "OK", Stop: "stop",
}

// Meanings returns every meaning, in the order of the contract.
func Meanings() []Meaning {
	return []Meaning{HowMuchGas, LowOnGas, OutOfGas, ShareGas, HalfTank, OnReserve, Decompression, GoUp,
		GoDown, OK, Stop}
}

// Known reports whether the meaning is one of Meanings.
func (m Meaning) Known() bool { return meaningText[m] != "" }

// String returns the meaning in words: "low on gas".
func (m Meaning) String() string {
	if s := meaningText[m]; s != "" {
		return s
	}
	return string(m)
}

// urgent reports whether mistaking the sign can leave a diver without gas.
func (m Meaning) urgent() bool { return m == LowOnGas || m == OutOfGas || m == ShareGas }

// Figure returns the reading that a message stands for in that unit, and whether it stands for one:
// half a tank is 100 bar or 1500 psi, on reserve 50 bar (common practice). A cylinder of another
// rating has another half: the figure is what is signalled, not what the cylinder holds.
func (m Meaning) Figure(u units.Unit) (units.Reading, bool) {
	switch {
	case m == HalfTank && u == units.UnitBar:
		return units.Read(100, u), true
	case m == HalfTank && u == units.UnitPSI:
		return units.Read(1500, u), true
	case m == OnReserve && u == units.UnitBar:
		return units.Read(50, u), true
	}
	return units.Reading{}, false
}

// Sign is a gesture with its meaning.
type Sign struct {
	Meaning Meaning
	Gesture Gesture
}

// Convention is what a group agrees before the dive: how numbers are shown and which gesture stands
// for which message. It is plain data; Examine returns what is wrong with it.
type Convention struct {
	Code   string // stable, chosen by the owner of the convention
	Name   string
	Note   string
	Unit   units.Unit // bar or psi
	Hands  Hands      // the hands that are free for numbers
	Style  Style
	Ten    Gesture // stands for ten steps; empty: one, then zero
	Region Region  // whose customs the group meets; empty: customs are not checked
	Signs  []Sign
}

// Step returns the step to which the convention rounds: 100 psi or 10 bar.
func (c Convention) Step() units.Reading { return StepOf(c.Unit) }

// Down returns a start pressure or a reading as the convention shows it: in its unit, rounded down
// to its step. The units of the convention and of the reading must be bar or psi.
func (c Convention) Down(r units.Reading) units.Reading {
	return r.Pressure().RoundDown(c.Unit, c.Step().Value.Float())
}

// Up returns a turn or low-gas pressure as the convention shows it: in its unit,
// rounded up to its step, so that 55 bar is shown as 60.
func (c Convention) Up(r units.Reading) units.Reading {
	return r.Pressure().RoundUp(c.Unit, c.Step().Value.Float())
}

// In returns the same convention for a diver whose gauge shows unit u.
func (c Convention) In(u units.Unit) Convention {
	c.Unit = u
	return c
}

// Sign returns the gestures that the convention has for a message.
func (c Convention) Sign(m Meaning) []Gesture {
	var l []Gesture
	for _, s := range c.Signs {
		if s.Meaning == m {
			l = append(l, s.Gesture)
		}
	}
	return l
}

// everywhere has the signs that every diver knows, whatever a group agrees (from memory).
var everywhere = []Sign{{GoUp, ThumbUp}, {GoDown, ThumbDown}, {OK, OKRing}, {Stop, FlatHand}}

// Region names a set of local customs that a convention may meet.
type Region string

// The regions whose customs differ. Meanings vary from place to place and from instructor to
// instructor: none of this is a rule of that place.
const (
	General          Region = "general"
	TeeDecompression Region = "tee_decompression"
	German           Region = "german"
	French           Region = "french"
)

// Custom is the signs of the divers of a region.
type Custom struct {
	Region Region
	Name   string
	Signs  []Sign
	Source string
}

var customs = []Custom{
	{General, "Common practice", []Sign{{HalfTank, Tee}, {LowOnGas, Fist}}, sourceTrade},
	{TeeDecompression, "Where the T asks for decompression", []Sign{{Decompression, Tee}}, sourceTrade},
	{German, "German practice", []Sign{{OnReserve, Fist}}, sourceTrade},
	{French, "French practice", []Sign{{OnReserve, Fist}, {HalfTank, RaisedHands}}, sourceTrade},
}

// Customs returns the regions whose customs are known, with their signs.
func Customs() []Custom { return slices.Clone(customs) }

func messages(ask Gesture, more ...Sign) []Sign {
	return append([]Sign{
		{HowMuchGas, ask}, {LowOnGas, FistOnChest}, {OutOfGas, HandAcrossThroat}, {ShareGas, FingersToMouth},
	}, more...)
}

// Ready returns the conventions that come with the service. A centre adds its own.
func Ready() []Convention { return append(generalConventions(), regionalConventions()...) }

func generalConventions() []Convention {
	one, two := messages(PalmUpCurl), messages(FingersOnPalm)
	tee := messages(FingersOnPalm, Sign{HalfTank, Tee})
	return []Convention{
		{Code: "digits_psi", Name: "Digits, one hand, psi",
			Unit: units.UnitPSI, Hands: OneHand, Style: Digits, Region: General, Signs: one},
		{Code: "digits_bar", Name: "Digits, one hand, bar",
			Unit: units.UnitBar, Hands: OneHand, Style: Digits, Region: General, Signs: one},
		{Code: "digits_two_hands_psi", Name: "Digits, two hands, psi",
			Unit: units.UnitPSI, Hands: TwoHands, Style: Digits, Region: General, Signs: two},
		{Code: "digits_two_hands_bar", Name: "Digits, two hands, bar",
			Unit: units.UnitBar, Hands: TwoHands, Style: Digits, Region: General, Signs: two},
		{Code: "forearm_psi", Name: "Thousands on the forearm, psi",
			Unit: units.UnitPSI, Hands: TwoHands, Style: Forearm, Region: General, Signs: two},
		{Code: "forearm_bar", Name: "Hundreds on the forearm, bar",
			Unit: units.UnitBar, Hands: TwoHands, Style: Forearm, Region: General, Signs: two},
		{Code: "tee_psi", Name: "T for half a tank and the rest, psi",
			Unit: units.UnitPSI, Hands: TwoHands, Style: TeeAndRest, Region: General, Signs: tee},
		{Code: "tee_bar", Name: "T for 100 bar and the rest",
			Unit: units.UnitBar, Hands: TwoHands, Style: TeeAndRest, Region: General, Signs: tee},
		{Code: "fives_psi", Name: "Fives added up, psi",
			Unit: units.UnitPSI, Hands: OneHand, Style: Fives, Region: General, Signs: one},
		{Code: "fives_bar", Name: "Fives added up, bar",
			Unit: units.UnitBar, Hands: OneHand, Style: Fives, Region: General, Signs: one},
	}
}

func regionalConventions() []Convention {
	return []Convention{
		{Code: "digits_bar_tee_decompression", Name: "Digits, bar, T is decompression",
			Unit: units.UnitBar, Hands: OneHand, Style: Digits, Region: TeeDecompression,
			Note:  "Where the T asks for decompression.",
			Signs: messages(PalmUpCurl, Sign{Decompression, Tee})},
		{Code: "digits_bar_german", Name: "Digits, bar, fist alone is on reserve",
			Unit: units.UnitBar, Hands: OneHand, Style: Digits, Region: German,
			Note: "As in German practice.", Signs: messages(PalmUpCurl, Sign{OnReserve, Fist})},
		{Code: "digits_bar_french", Name: "Digits, bar, raised hands are half a tank",
			Unit: units.UnitBar, Hands: OneHand, Style: Digits, Region: French,
			Note:  "As in French practice.",
			Signs: messages(PalmUpCurl, Sign{OnReserve, Fist}, Sign{HalfTank, RaisedHands})},
	}
}
