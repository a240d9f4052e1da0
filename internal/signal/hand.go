package signal

import "fmt"

// A hand is a right hand as the partner sees it: palm towards the partner, the
// thumb on the right of the picture. Flipped it is a left hand, or the back of
// a right one.
type hand struct {
	up   int  // stretched fingers, from the index finger on; 5 adds the thumb
	flat bool // fingers together, the thumb along them
	back bool // the back of the hand is seen: folded fingers and thumb are not
	bare bool // no sleeve: the hand goes on an arm

}

// The index finger first. Tips are x, y; knuckles lie at y = 104.
var fingers = [4]struct{ x, tipX, tipY, flatX, flatY float64 }{
	{128, 140, 36, 127, 38},
	{109, 112, 22, 109, 24},
	{90, 84, 30, 91, 32},
	{72, 56, 54, 73, 56},
}

const fingerWidth = 14.5

func (h hand) layers(at place) []layer {
	base := layer{place: at, parts: []part{{h.palm(), 0, skin}}}
	if !h.bare {
		base.parts = append(base.parts, part{"M71,190 L129,190 L134,240 L66,240 Z", 0, suit})
	}
	if h.up == 5 {
		base = h.stretchThumb(base)
	}
	folded := layer{place: at}
	for i, f := range fingers {
		x, y := f.tipX, f.tipY
		if h.flat {
			x, y = f.flatX, f.flatY
		}
		switch {
		case i < h.up:
			base.parts = append(base.parts, part{fmt.Sprintf("M%g,108 L%g,%g", f.x, x, y), fingerWidth, skin})
		case h.back:
			base.parts = append(base.parts, part{fmt.Sprintf("M%g,106 L%g,98", f.x, f.x), 17, skin})
			base.creases = append(base.creases, fmt.Sprintf("M%g,112 q5,-5 10,0", f.x-5))
		default:
			folded.parts = append(folded.parts, part{fmt.Sprintf("M%g,96 L%g,124", f.x, f.x), 15, skin})
		}
	}
	out := append([]layer{base}, split(folded)...)
	return append(out, h.thumb(at)...)
}

// split returns a layer for each part of l, so that each part has its own outline.
func split(l layer) []layer {
	var out []layer
	for _, p := range l.parts {
		out = append(out, layer{place: l.place, parts: []part{p}})
	}
	return out
}

func (h hand) palm() string {
	return "M62,108 Q62,98 72,98 L128,98 Q138,98 138,108 Q142,140 128,164 L124,200 L76,200 L72,164 Q58,140 " +
		"62,108 Z"
}

// stretchThumb adds the thumb to the silhouette, along the fingers or away
// from them.
func (h hand) stretchThumb(base layer) layer {
	if h.flat {
		base.parts = append(base.parts, part{"M126,152 Q146,136 147,106", 16, skin})
		base.creases = append(base.creases, "M138,108 L138,124")
		return base
	}
	base.parts = append(base.parts, part{"M120,154 Q152,128 174,96", 17, skin},
		part{"M116,150 Q134,136 140,126", 26, skin})
	if !h.back {
		base.creases = append(base.creases, "M104,128 Q116,144 110,164")
	}
	return base
}

// thumb returns the thumb folded in before the palm.
func (h hand) thumb(at place) []layer {
	switch {
	case h.up == 5 || h.back:
		return nil
	case h.up == 4:
		return []layer{{place: at, parts: []part{{"M128,154 Q116,136 92,138", 16, skin}}}}
	}
	return []layer{{place: at, parts: []part{{"M130,152 Q124,128 96,128", 17, skin}}}}
}

// thumbFist returns a fist seen from the side of its fingers with the thumb up.
func thumbFist(at place) []layer {
	arm := layer{place: at, parts: []part{{"M50,142 L80,130", 44, skin}, {"M-20,170 L34,149", 50, suit}}}
	back := layer{place: at, parts: []part{
		{"M70,92 Q62,128 74,160 L120,160 Q136,128 120,92 Z", 10, skin},
		{"M86,100 Q80,70 90,34", 21, skin},
	}, creases: []string{"M82,46 q8,-4 14,1"}}
	out := []layer{arm, back}
	for i := range 4 {
		y := 96 + 20*float64(i)
		out = append(out,
			layer{place: at, parts: []part{{fmt.Sprintf("M132,%g L%d,%g", y, 96+2*i, y), 16, skin}}})
	}
	return out
}

// ringHand returns a hand whose thumb and index finger meet in a ring; the other fingers lie behind
// it, or are stretched.
func ringHand(at place, stretched bool) []layer {
	base := layer{place: at,
		parts: []part{{"M62,120 Q62,104 76,104 L120,104 Q138,110 136,128 Q138,146 128,164 L124,200 L76,200 " +
			"L72,164 Q60,144 62,120 Z", 0, skin},
			{"M71,190 L129,190 L134,240 L66,240 Z", 0, suit}}}
	if !stretched {
		base.parts = append(base.parts, part{"M78,124 C40,88 58,26 106,28 Q122,29 132,40", 20, skin},
			part{"M122,132 C156,112 160,72 138,48", 20, skin})
		base.creases = append(base.creases, "M126,49 L142,34", "M52,66 L66,72", "M60,98 L72,92")
		return []layer{base}
	}
	for _, f := range fingers[1:] {
		base.parts = append(base.parts,
			part{fmt.Sprintf("M%g,112 L%g,%g", f.x-4, f.tipX-8, f.tipY), fingerWidth, skin})
	}
	base.parts = append(base.parts, part{"M128,112 C126,60 164,44 180,80", fingerWidth, skin},
		part{"M120,150 C152,148 176,126 181,92", 16, skin})
	base.creases = append(base.creases, "M173,84 L189,88")
	return []layer{base}
}
