package ratio

import "tankside/internal/units"

// Deepest is the greatest depth that the books allow a student.
type Deepest struct {
	Depth  units.Depth // 0 where no line sets a depth
	Why    string      // the book and the line that set it
	Source string      // that book with its version and source
}

// DepthLimit returns the least depth that the books set for a student of that age in such water, at
// such a level. A line's figures hold down to its MaxDepth and there are none below it, so that
// depth is a limit for each student whom the line covers. Students older than its AgeTo may be held
// to the line's number beside younger ones, but not to its depth. A book sets no depth for crew.
func DepthLimit(books []Book, s Setting, l Level, age int) Deepest {
	g := Group{Setting: s, Level: l}
	var out Deepest
	for i := range books {
		for j := range books[i].Lines {
			b, x := &books[i], &books[i].Lines[j]
			if x.MaxDepth > 0 && x.limits(&g, age) && (out.Depth == 0 || x.MaxDepth < out.Depth) {
				out = Deepest{x.MaxDepth, b.Title + ", " + x.Title, b.cite()}
			}
		}
	}
	return out
}
