package roster

import "slices"

// StudentKinds returns the kinds of paper by which a student is judged.
func StudentKinds(d Demands) []Kind {
	return append([]Kind{Medical, Consent}, d.StudentPapers...)
}

// CrewKinds returns the kinds of paper by which crew is judged: those that the centre asks of crew,
// and those that make an assistant count.
func CrewKinds(d Demands) []Kind {
	return append([]Kind{TeachingStatus, Insurance}, d.CrewPapers...)
}

// PapersOf returns the ids of all papers of these kinds that a person has on record, in order,
// whether valid on the day or not. A judgement by these kinds rests on all of them.
func PapersOf(p Person, kinds []Kind) []string {
	ids := []string{}
	for _, x := range p.Papers {
		if slices.Contains(kinds, x.Kind) {
			ids = append(ids, x.ID)
		}
	}
	slices.Sort(ids)
	return ids
}
