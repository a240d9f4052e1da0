package signal

// dice is a source of numbers that look random and are the same for the same seed, on every machine
// and with every version of Go: SplitMix64, Steele, Lea and Flood, "Fast splittable pseudorandom
// number generators", OOPSLA 2014. It is for drills and practice only.
type dice struct{ state uint64 }

func (d *dice) next() uint64 {
	d.state += 0x9e3779b97f4a7c15
	z := d.state
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// below returns a number from 0 to n-1.
func (d *dice) below(n int) int { return int(d.next() % uint64(n)) }

// shuffle returns the cases in a random order.
func (d *dice) shuffle(l []Misreading) []Misreading {
	out := make([]Misreading, len(l))
	for i, c := range l {
		k := d.below(i + 1)
		out[i] = out[k]
		out[k] = c
	}
	return out
}
