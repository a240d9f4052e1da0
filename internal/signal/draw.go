package signal

// pictures has the drawing of each gesture.
var pictures = drawAll()

func drawAll() map[Gesture]picture {
	m := map[Gesture]picture{
		Ring:   {width: 200, layers: ringHand(upright, false)},
		OKRing: {width: 200, layers: ringHand(upright, true)},
		// scaled to look as large as the others
		Fist:    {width: 200, layers: hand{}.layers(place{x: 100, y: 86, scale: 1.3})},
		ThumbUp: {width: 200, layers: thumbFist(upright)},
		ThumbDown: {width: 200,
			layers: thumbFist(place{x: 100, y: 110, scale: 1, turn: 180, flip: true})},
		FlatHand:         {width: 200, layers: hand{up: 5, flat: true}.layers(upright)},
		Tee:              drawTee(),
		RaisedHands:      drawRaisedHands(),
		FistOnChest:      drawFistOnChest(),
		HandAcrossThroat: drawHandAcrossThroat(),
		FingersToMouth:   drawFingersToMouth(),
		FingersOnPalm:    drawFingersOnPalm(),
		FingersOnGauge:   drawFingersOnGauge(),
		PalmUpCurl:       drawPalmUpCurl(),
	}
	for n := 1; n <= 5; n++ {
		m[Fingers(n)] = picture{width: 200, layers: hand{up: n}.layers(upright)}
		m[OnForearm(n)] = drawOnForearm(n)
		m[BothHands(n+5)] = drawBothHands(n)
	}
	for n := 1; n <= 4; n++ {
		m[Sideways(n)] = picture{width: 200, layers: hand{up: n, flat: true, back: true}.layers(pointing)}
	}
	return m
}

// pointing places a hand that points to the right, its back to the partner, index finger on top.
var pointing = place{x: 96, y: 110, scale: 1, turn: 90, flip: true}

func drawBothHands(n int) picture {
	right := hand{up: 5}.layers(place{x: 88, y: 112, scale: 0.96})
	left := hand{up: n}.layers(place{x: 248, y: 112, scale: 0.96, flip: true})
	return picture{width: 336, layers: append(right, left...)}
}

func drawOnForearm(n int) picture {
	arm := layer{place: upright, parts: []part{
		{"M66,150 L40,150", 42, skin}, {"M250,150 L84,150", 50, suit},
	}}
	fist := layer{place: upright,
		parts:   []part{{"M20,126 Q48,120 54,138 L54,164 Q46,180 20,174 Q4,150 20,126 Z", 0, skin}},
		creases: []string{"M10,140 L32,140", "M8,151 L32,151", "M10,162 L32,162"}}
	h := hand{up: n, back: true, flat: n < 5}.layers(place{x: 130, y: 66, scale: 0.92, turn: 180, flip: true})
	return picture{width: 200, layers: append([]layer{arm, fist}, h...)}
}

func drawTee() picture {
	upper := []layer{
		{place: upright, parts: []part{{"M40,52 L66,52", 34, skin}, {"M-20,52 L22,52", 46, suit}}},
		{place: upright,
			parts:   []part{{"M58,38 Q90,30 128,38 L180,42 Q190,51 180,59 L128,66 Q90,70 58,66 Z", 0, skin}},
			creases: []string{"M120,52 L176,51"}},
	}
	lower := hand{up: 4, flat: true, back: true}.layers(place{x: 108, y: 150, scale: 0.86})
	return picture{width: 200, layers: append(lower, upper...)}
}

// diver is a head with mask and regulator on shoulders, seen from the front.
func diver() []layer {
	return []layer{
		{place: upright, parts: []part{{"M14,240 Q16,150 62,132 L138,132 Q184,150 186,240 Z", 0, suit}}},
		{place: upright, parts: []part{{"M84,112 L84,140 L116,140 L116,112 Z", 0, suit}}},
		{place: upright,
			parts: []part{{"M100,24 C136,24 142,56 138,84 C134,112 118,126 100,126 C82,126 66,112 62,84 " +
				"C58,56 64,24 100,24 Z", 0, suit}}},
		{place: upright,
			parts: []part{{"M100,42 C124,42 128,64 126,84 C124,106 112,118 100,118 C88,118 76,106 74,84 " +
				"C72,64 76,42 100,42 Z", 0, skin}}},
		{place: upright,
			parts: []part{{"M72,52 Q100,44 128,52 Q132,76 116,78 Q106,78 100,70 Q94,78 84,78 Q68,76 72,52 Z",
				0, glass}}},
		{place: upright, parts: []part{{"M112,102 Q150,104 150,150", 5, "#5b6b75"}}},
		{place: upright, parts: []part{{"M86,90 Q100,84 114,90 L114,106 Q100,114 86,106 Z", 0, "#5b6b75"}}},
	}
}

func arm(path string) layer {
	return layer{place: upright, parts: []part{{path, 32, suit}}}
}

func drawFistOnChest() picture {
	l := append(diver(), arm("M30,176 L40,222 L84,186"))
	l = append(l, hand{bare: true}.layers(place{x: 118, y: 166, scale: 0.6, turn: 62})...)
	return picture{width: 200, layers: l,
		moves: []string{"M168,196 Q152,204 140,192 M140,204 L139,191 L152,190"}}
}

func drawHandAcrossThroat() picture {
	l := append(diver(), arm("M28,176 L10,206 L30,150"))
	l = append(l, hand{up: 4, flat: true, back: true,
		bare: true}.layers(place{x: 76, y: 136, scale: 0.52, turn: 84, flip: true})...)
	return picture{width: 200, layers: l, moves: []string{"M176,132 L134,132 M145,122 L134,132 L145,142"}}
}

func drawFingersToMouth() picture {
	l := append(diver(), arm("M30,180 L22,226 L58,166"))
	bunch := layer{place: upright, parts: []part{
		{"M58,160 L70,140", 26, skin}, {"M70,146 L94,104", 9, skin}, {"M64,138 L92,104", 9, skin},
		{"M78,148 L97,106", 9, skin}, {"M84,150 L99,107", 9, skin},
	}, creases: []string{"M72,134 L93,105", "M79,138 L96,106"}}
	l = append(l, bunch)
	return picture{width: 200, layers: l,
		moves: []string{"M120,132 L140,168 M120,146 L120,132 L133,138 M127,162 L140,168 L140,154"}}
}

func drawRaisedHands() picture {
	l := diver()
	for i := range l {
		l[i].place = place{x: 130, y: 118, scale: 1}
	}
	l = append(l, arm("M72,178 L32,196 L40,124"), arm("M188,178 L228,196 L220,124"))
	l = append(l, hand{up: 5, bare: true}.layers(place{x: 41, y: 78, scale: 0.52})...)
	l = append(l, hand{up: 5, bare: true}.layers(place{x: 219, y: 78, scale: 0.52, flip: true})...)
	return picture{width: 260, layers: l}
}

func drawFingersOnPalm() picture {
	l := hand{up: 5, flat: true}.layers(place{x: 142, y: 106, scale: 1, flip: true})
	l = append(l,
		hand{up: 2, flat: true, back: true}.layers(place{x: 68, y: 132, scale: 0.8, turn: 90, flip: true})...)
	return picture{width: 220, layers: l}
}

func drawFingersOnGauge() picture {
	gauge := []layer{
		{place: upright, parts: []part{{"M150,140 Q160,200 130,240", 10, "#5b6b75"}}},
		{place: upright, parts: []part{{"M104,96 a46,46 0 1,0 92,0 a46,46 0 1,0 -92,0 Z", 0, "#5b6b75"}}},
		{place: upright, parts: []part{{"M112,96 a38,38 0 1,0 76,0 a38,38 0 1,0 -76,0 Z", 0, "#ffffff"}},
			creases: []string{"M150,96 L172,72", "M122,118 l6,-5", "M116,92 l8,1", "M128,66 l5,6",
				"M152,58 l0,8", "M182,92 l-8,1", "M177,118 l-6,-5"}},
	}
	l := append(gauge,
		hand{up: 2, flat: true, back: true}.layers(place{x: 58, y: 128, scale: 0.8, turn: 90, flip: true})...)
	return picture{width: 200, layers: l}
}

func drawPalmUpCurl() picture {
	l := []layer{
		{place: upright, parts: []part{{"M-20,176 L44,160", 46, suit}}},
		{place: upright, parts: []part{
			{"M52,156 L76,150", 34, skin}, {"M70,148 L116,146", 36, skin},
			{"M120,140 Q168,146 172,104", 16, skin}, {"M120,152 Q176,160 186,112", 15, skin},
			{"M86,138 Q92,112 110,98", 17, skin},
		}, creases: []string{"M124,148 Q172,154 180,108"}},
	}
	return picture{width: 200, layers: l, moves: []string{"M168,78 Q154,48 120,56 M131,43 L119,56 L135,64"}}
}
