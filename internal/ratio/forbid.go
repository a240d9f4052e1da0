package ratio

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// forbid adds the findings that refuse the group, or that would refuse the first student of an
// empty group.
func (v *Verdict) forbid(books []Book, g *Group, r ruling) {
	n := len(g.Ages)
	if r.book != nil && n > r.places {
		v.add(g, tooMany(books, g, r))
	}
	if g.LoweredTo != nil && *g.LoweredTo < r.places && n > max(*g.LoweredTo, 0) {
		v.add(g, aboveLowered(g))
	}
	if r.sound {
		return
	}
	if !g.Instructor {
		v.add(g, noInstructor())
	}
	if !covered(books, g) {
		v.add(g, noNumber(books, g))
	}
	youngest := youngest(books, g)
	for i := range books {
		for j := range books[i].Lines {
			if l := &books[i].Lines[j]; l.limits(g, youngest) {
				v.forbidMix(g, &books[i], l, youngest)
			}
		}
	}
}

// forbidMix adds the findings of one line on the composition of the group.
func (v *Verdict) forbidMix(g *Group, b *Book, l *Line, youngest int) {
	if len(g.Ages) > 0 && youngest < l.MinAge {
		v.add(g, belowAge(b, l, youngest))
	}
	if m := l.Young; m != nil {
		if m.count(g) > m.most(g) {
			v.add(g, tooManyYoung(b, m, g))
		}
		if m.badCompany(g) {
			v.add(g, youngWithOthers(b, m))
		}
	}
	if l.tooDeep(g) {
		v.add(g, tooDeep(b, l, g))
	}
}

// add puts a finding about the group on the verdict. An empty group is allowed, so a forbidding
// finding is a note there.
func (v *Verdict) add(g *Group, f finding.Finding) {
	if f.Severity == finding.Forbidden && len(g.Ages) == 0 {
		f.Severity = finding.Note
	}
	if g.Subject != (finding.Subject{}) {
		f.Subjects = append(f.Subjects, g.Subject)
	}
	v.Findings = append(v.Findings, f)
}

func tooMany(books []Book, g *Group, r ruling) finding.Finding {
	n := len(g.Ages)
	f := TooManyStudents.Say("{students} are too many with {assistants}: the limit is {places} ({title}: {line}).",
		*amount(n, "student"), assistantsOf(g), r.places, r.book.Title, r.line.Title).With("book", r.book.ID)
	f.Source = r.book.cite()
	f.Limit, f.Found = amount(r.places, "student"), amount(n, "student")
	if k, places := furtherAssistants(books, g, r.places); k > 0 {
		f.Cures = append(f.Cures, finding.Cure{Code: "add_assistant", Message: fmt.Sprintf(
			"Add %s: the limit becomes %d.", count(k, "assistant"), places)})
	}
	f.Cures = append(f.Cures, finding.Cure{Code: "move_student", Message: fmt.Sprintf(
		"Move %s to another group.", students(n-r.places))}, openGroup())
	return f
}

// furtherAssistants returns the least number of further assistants that makes the group's number allowed, and
// its places with them. Where no number of up to 8 does, it returns the places with one more
// assistant; where that adds nothing, no assistants.
func furtherAssistants(books []Book, g *Group, now int) (k, places int) {
	more := *g
	for k = 1; k <= 8; k++ {
		more.Assistants = max(g.Assistants, 0) + k
		if places = rule(books, &more).places; places >= len(g.Ages) {
			return k, places
		}
	}
	more.Assistants = max(g.Assistants, 0) + 1
	if places = rule(books, &more).places; places > now {
		return 1, places
	}
	return 0, now
}

func aboveLowered(g *Group) finding.Finding {
	n, limit := len(g.Ages), max(*g.LoweredTo, 0)
	f := AboveLoweredLimit.Say("{students} are more than the {places} to which the instructor lowered the limit.",
		*amount(n, "student"), limit)
	f.Limit, f.Found = amount(limit, "student"), amount(n, "student")
	f.Cures = []finding.Cure{
		{Code: "move_student", Message: fmt.Sprintf("Move %s to another group.", students(n-limit))},
		openGroup(),
		{Code: "ask_instructor",
			Message: "Ask the instructor in charge, who may take the lowered limit back."},
	}
	return f
}

func noInstructor() finding.Finding {
	f := NoInstructor.Of("The group has no instructor in charge.")
	f.Cures = []finding.Cure{{Code: "assign_instructor",
		Message: "Put an instructor in charge of the group."}}
	return f
}

func noNumber(books []Book, g *Group) finding.Finding {
	f := NoNumber.Say("No rule book that the centre applies sets a number for {training} in {setting} water.",
		levelWords(g.Level), g.Setting)
	notPermitted := func(age int) bool { return !permitted(books, g, age) }
	if i := slices.IndexFunc(g.Ages, notPermitted); i >= 0 && oldestCovered(books, g) > 0 {
		f = NoNumber.Say("No rule book that the centre applies sets a number for {training} in {setting} water with a "+
			"student aged {age}.", levelWords(g.Level), g.Setting, g.Ages[i])
	}
	f = f.With("level", string(g.Level))
	f.Cures = []finding.Cure{{Code: "set_number",
		Message: "Let the centre set a number of its own, or apply a rule book that has one."}}
	return f
}

func belowAge(b *Book, l *Line, age int) finding.Finding {
	f := BelowMinimumAge.Say("A student is {age} years old, and the least age is {least} ({title}: {line}).",
		age, l.MinAge, b.Title, l.Title).With("book", b.ID)
	f.Source = b.cite()
	f.Limit, f.Found = amount(l.MinAge, "year"), amount(age, "year")
	f.Cures = []finding.Cure{{Code: "remove_student",
		Message: fmt.Sprintf("Take students under %d out of the group.", l.MinAge)}}
	return f
}

func tooManyYoung(b *Book, m *Mix, g *Group) finding.Finding {
	n, most := m.count(g), m.most(g)
	f := TooManyYoung.Say("{young} under {below} are too many with {assistants}: at most {per_head} for each of the "+
		"crew ({title}).", *amount(n, "student"), m.Below, assistantsOf(g), m.PerHead, b.Title).
		With("limit", most).With("book", b.ID)
	f.Source = b.cite()
	f.Limit, f.Found = amount(most, "student"), amount(n, "student")
	if m.PerHead > 0 {
		k := (n - most + m.PerHead - 1) / m.PerHead
		f.Cures = append(f.Cures, finding.Cure{Code: "add_assistant", Message: fmt.Sprintf(
			"Add %s: the crew may then take %s under %d.",
			count(k, "assistant"), students(most+k*m.PerHead), m.Below)})
	}
	f.Cures = append(f.Cures, finding.Cure{Code: "move_student", Message: fmt.Sprintf(
		"Move %s under %d to another group.", students(n-most), m.Below)}, openGroup())
	return f
}

func youngWithOthers(b *Book, m *Mix) finding.Finding {
	f := YoungWithOthers.Say("With a student under {below} in the group everybody else must be {others_from} or older "+
		"({title}).", m.Below, m.OthersFrom, b.Title).With("book", b.ID)
	f.Source = b.cite()
	f.Cures = []finding.Cure{{Code: "move_student", Message: fmt.Sprintf(
		"Move the students under %d, or those from %d to %d, to another group.",
		m.Below, m.Below, m.OthersFrom-1)}, openGroup()}
	return f
}

func tooDeep(b *Book, l *Line, g *Group) finding.Finding {
	limit := units.Read(l.MaxDepth.In(units.UnitMetre), units.UnitMetre)
	found := units.Read(units.RoundUp(g.MaxDepth.In(units.UnitMetre), 0.01), units.UnitMetre)
	f := TooDeep.Say("{found} is planned, and the figure holds down to {limit} ({title}: {line}).",
		found, limit, b.Title, l.Title).With("book", b.ID)
	f.Source = b.cite()
	f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(found)
	f.Cures = []finding.Cure{{Code: "plan_shallower",
		Message: "Plan the dive to " + limit.String() + " at most."}}
	return f
}

func openGroup() finding.Cure {
	return finding.Cure{Code: "create_group", Message: "Create another group with another instructor."}
}
