package roster

import "slices"

// StudentKinds gives the kinds of paper by which a student is judged.
func StudentKinds(d Demands) []Kind {
	return append([]Kind{Medical, Consent}, d.StudentPapers...)
}

// CrewKinds gives the kinds of paper by which crew is judged: those that the
// centre asks for, and those that make an assistant count.
func CrewKinds(d Demands) []Kind {
	return append([]Kind{TeachingStatus, Insurance}, d.CrewPapers...)
}

// PapersOf gives the ids of all papers of these kinds that a person has on
// record, in order: what a judgement by them rests on, valid on the day or not.
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
