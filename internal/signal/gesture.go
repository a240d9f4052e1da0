package signal

import (
	"slices"
	"strconv"
	"strings"
)

// Gesture is one hand signal, named by what is seen, never by what it means.
type Gesture string

// The gestures without a count. Counted ones, like "fingers_3", come from Fingers, Sideways,
// BothHands and OnForearm.
const (
	Ring             Gesture = "ring"
	OKRing           Gesture = "ok_ring"
	Fist             Gesture = "fist"
	ThumbUp          Gesture = "thumb_up"
	ThumbDown        Gesture = "thumb_down"
	FlatHand         Gesture = "flat_hand"
	Tee              Gesture = "tee"
	RaisedHands      Gesture = "raised_hands"
	FistOnChest      Gesture = "fist_on_chest"
	HandAcrossThroat Gesture = "hand_across_throat"
	FingersToMouth   Gesture = "fingers_to_mouth"
	FingersOnPalm    Gesture = "fingers_on_palm"
	FingersOnGauge   Gesture = "fingers_on_gauge"
	PalmUpCurl       Gesture = "palm_up_curl"
)

// Fingers returns the gesture of n fingers upright, 1 to 5.
func Fingers(n int) Gesture { return counted("fingers_", n) }

// Sideways returns the gesture of n fingers held sideways with the thumb in, 1 to 4.
func Sideways(n int) Gesture { return counted("sideways_", n) }

// BothHands returns the gesture of n fingers upright on both hands together, 6 to 10.
func BothHands(n int) Gesture { return counted("both_hands_", n) }

// OnForearm returns the gesture of n fingers laid on the other forearm, 1 to 5.
func OnForearm(n int) Gesture { return counted("forearm_", n) }

func counted(kind string, n int) Gesture { return Gesture(kind + strconv.Itoa(n)) }

// The sources of the gestures' shapes.
const (
	sourceRSTC = "Recreational Scuba Training Council, Common Hand Signals for Recreational Scuba " +
		"Diving, 1 December 2005"
	sourceTrade  = "trade"
	sourceMemory = "memory"
)

// Sight describes a gesture apart from its meaning.
type Sight struct {
	Gesture Gesture
	Title   string // a few words, for a caption
	Text    string // a sentence that describes it: the picture's text alternative
	Hands   Hands  // the hands it takes
	Source  string // the publication that shows it, "trade", or "memory"
}

var sights = slices.Concat(countedSights(), []Sight{
	{Ring, "Ring", "All fingertips of one hand meet the thumb and make a closed ring.", OneHand, sourceTrade},
	{OKRing, "Ring, three fingers up",
		"Thumb and index finger make a ring, the other three fingers are upright.", OneHand, sourceMemory},
	{Fist, "Fist", "One hand raised as a fist, fingers towards the partner.", OneHand, sourceTrade},
	{ThumbUp, "Thumb up", "A fist with the thumb pointing up.", OneHand, sourceMemory},
	{ThumbDown, "Thumb down", "A fist with the thumb pointing down.", OneHand, sourceMemory},
	{FlatHand, "Flat hand", "A flat hand raised, fingers together, palm towards the partner.",
		OneHand, sourceMemory},
	{Tee, "T of two hands",
		"The fingertips of one upright hand touch the other hand, held flat above them: a T.",
		TwoHands, sourceTrade},
	{RaisedHands, "Hands raised", "Both hands raised beside the head, open, palms towards the partner.",
		TwoHands, sourceTrade},
	{FistOnChest, "Fist to the chest", "A fist is brought to the chest.", OneHand, sourceRSTC},
	{HandAcrossThroat, "Hand across the throat", "A flat hand, palm down, is drawn across the throat.",
		OneHand, sourceRSTC},
	{FingersToMouth, "Fingers to the mouth", "Bunched fingers are moved to the mouth and away again.",
		OneHand, sourceRSTC},
	{FingersOnPalm, "Two fingers on the palm",
		"Two fingers of one hand are laid on the open palm of the other.", TwoHands, sourceRSTC},
	{FingersOnGauge, "Two fingers on the gauge", "Two fingers are laid on the pressure gauge.",
		TwoHands, sourceTrade},
	{PalmUpCurl, "Palm up, fingers curl", "One hand with the palm up, the fingers curling back.",
		OneHand, sourceTrade},
})

func countedSights() []Sight {
	words := []string{"No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten"}
	fingers := func(n int) string {
		if n == 1 {
			return "One finger"
		}
		return words[n] + " fingers"
	}
	var l []Sight
	for n := 1; n <= 5; n++ {
		l = append(l, Sight{Fingers(n), fingers(n) + " up",
			fingers(n) + " of one hand upright, palm towards the partner.", OneHand, sourceTrade})
	}
	for n := 1; n <= 4; n++ {
		l = append(l,
			Sight{Sideways(n), fingers(n) + " sideways", fingers(n) + " of one hand held sideways, thumb in.",
				OneHand, sourceMemory})
	}
	for n := 6; n <= 10; n++ {
		l = append(l,
			Sight{BothHands(n), fingers(n), "Five fingers of one hand and " + strings.ToLower(words[n-5]) +
				" of the other upright.", TwoHands, sourceTrade})
	}
	for n := 1; n <= 5; n++ {
		l = append(l, Sight{OnForearm(n), fingers(n) + " on the forearm",
			fingers(n) + " of one hand laid on the other forearm.", TwoHands, sourceTrade})
	}
	return l
}

var sightOf = func() map[Gesture]Sight {
	m := make(map[Gesture]Sight, len(sights))
	for _, s := range sights {
		m[s.Gesture] = s
	}
	return m
}()

// Sights returns every gesture that this package knows and draws, the counted ones first.
func Sights() []Sight { return slices.Clone(sights) }

// Sight returns the description of the gesture, and whether it is a known one.
func (g Gesture) Sight() (Sight, bool) { s, ok := sightOf[g]; return s, ok }

// Known reports whether the gesture is one of Sights.
func (g Gesture) Known() bool { _, ok := sightOf[g]; return ok }

// String returns the gesture as in a caption: "Two fingers up".
func (g Gesture) String() string {
	if s, ok := sightOf[g]; ok {
		return s.Title
	}
	return string(g)
}

// Sequence is gestures one after the other.
type Sequence []Gesture

// String returns the sequence in words: "one finger up, then two fingers sideways".
func (s Sequence) String() string {
	words := make([]string, len(s))
	for i, g := range s {
		words[i] = g.String()
		if g != Tee && words[i] != "" {
			words[i] = strings.ToLower(words[i][:1]) + words[i][1:]
		}
	}
	return strings.Join(words, ", then ")
}
