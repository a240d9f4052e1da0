package watercheck

import (
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// TimeInOf returns a time in of this dive, nil when none of that id stands.
func (d DiveSnapshot) TimeInOf(id uuid.UUID) *waterview.Dive {
	for i := range d.Log {
		if d.Log[i].StartID == id && d.Log[i].DiveID == d.Dive.ID {
			return &d.Log[i]
		}
	}
	return nil
}

// leastEnd is what a dive ends with at least: training organisations' manuals
// say 50 bar or 500 to 700 psi (seen).
var leastEnd = map[units.Unit]units.Reading{units.UnitBar: units.Read(50, units.UnitBar),
	units.UnitPSI: units.Read(700, units.UnitPSI)}

// JudgeEnd holds the end of a dive against its beginning and the least pressure.
func (d DiveSnapshot) JudgeEnd(p Participant, start waterview.Dive, out time.Time, end *units.Reading) finding.List {
	var found finding.List
	if !out.After(start.InAt) {
		found = append(found, OutBeforeIn.Say("{person} came out at {out_at} and went in at {in_at}.",
			p.named(), d.Session.Clock(out), d.Session.Clock(start.InAt)).
			About(p.subject()))
	}
	if end == nil {
		return found
	}
	if least := leastEnd[end.Unit]; end.Compare(least) < 0 {
		f := EndPressure.Say("{person} ended the dive with {end}.", p.named(), end).About(p.subject())
		f.Limit, f.Found = finding.Quantity(least), finding.Quantity(*end)
		f.Cures = []finding.Cure{{Code: "plan_anew",
			Message: "Plan the next dive with a higher turn pressure or a shorter time."}}
		found = append(found, f)
	}
	if began := start.StartPressure; began != nil && end.Compare(*began) > 0 {
		f := EndAboveStart.Say("{person} ended the dive with {end} and began it with {start}.", p.named(),
			end, began).About(p.subject())
		f.Limit, f.Found = finding.Quantity(*began), finding.Quantity(*end)
		f.Cures = []finding.Cure{{Code: "void_wrong",
			Message: "Void the entry that is wrong and record it again."}}
		found = append(found, f)
	}
	return found
}

// JudgeSite holds the greatest depth against the site's.
func (d DiveSnapshot) JudgeSite(p Participant, depth *units.Reading) finding.List {
	site := units.Reading(d.Session.SiteMax())
	if depth == nil || site.IsZero() || depth.Compare(site) <= 0 {
		return nil
	}
	return finding.List{beyond(BeyondSite, p, *depth, site, "the site's greatest depth is")}
}

// JudgeTaught holds the dive of a student against the syllabus: a training dive
// by syllabus.JudgeDive, another by its greatest depth alone.
func (d DiveSnapshot) JudgeTaught(p Participant, start waterview.Dive, out time.Time,
	depth *units.Reading) finding.List {
	if p.EnrolmentID == nil {
		return nil
	}
	y := d.lessons.Of(*p.EnrolmentID)
	if d.Session.Kind == syllabus.Open && d.number() > 0 {
		_, found := syllabus.JudgeDive(y,
			standing.DiveDone(d.Session, d.number(), p.age(d.Session), start.StartID, start.InAt, &out, depth))
		return found
	}
	limit, why := units.Reading(y.ConfinedMaxDepth), "in confined water the syllabus goes to"
	if d.Session.Kind == syllabus.Open {
		limit, why = units.Reading(syllabus.DepthLimit(y, 0, p.age(d.Session),
			syllabus.Quantity{}).Depth), "on no training dive the strictest limit of the syllabus counts,"
	}
	if depth == nil || limit.IsZero() || depth.Compare(limit) <= 0 {
		return nil
	}
	return finding.List{beyond(syllabus.DiveBeyondLimit, p, *depth, limit, why)}
}

func beyond(r finding.Rule, p Participant, depth, limit units.Reading, why string) finding.Finding {
	f := r.Say("{person} was at {depth}; {why} {limit}.", p.named(), depth, why, limit).About(p.subject())
	f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(depth)
	return f
}
