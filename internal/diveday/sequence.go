package diveday

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/gasplan"
	"tankside/internal/nostop"
	"tankside/internal/pg"
	"tankside/internal/units"
	"tankside/internal/when"
)

// Origin is the source of the depth or the time of a dive.
type Origin string

// The sources of depths and times, the best first.
const (
	Recorded       Origin = "recorded"       // logged for the dive
	ConfirmedPlan  Origin = "confirmed_plan" // the plan of record
	OfTrainingDive Origin = "training_dive"  // the syllabus: the training dive's depth, or confined water's
	OfSite         Origin = "site"           // the greatest depth of the site
	SessionLength  Origin = "session_length" // the share of the session that the dive has
	UntilNow       Origin = "until_now"      // no time out is recorded yet
)

// Dive is one dive of a person, planned or done, in the sequence of all their dives.
type Dive struct {
	PersonID      uuid.UUID
	ParticipantID uuid.UUID
	Role          string
	SessionID     uuid.UUID
	CourseID      uuid.UUID
	SessionTitle  string
	SessionKind   string // confined or open
	DiveID        uuid.UUID
	Number        int // within the session
	TrainingDive  *int
	StartID       *uuid.UUID // of a dive that was done
	Unrecorded    bool       // its session is closed and nothing was recorded of it
	Running       bool       // no time out is recorded
	DepthFrom     Origin
	TimeFrom      Origin
	On            time.Time     // the local day of its time in, as days are stored
	Result        nostop.Result // its Dive has the key DiveID or StartID, and times in the session's zone
}

// lookBehind is how far back dives are read: 72 h, our choice, since the tables look back
// 48 h at most.
const lookBehind = 72 * time.Hour

// bookedDive is a dive of a session for one of its participants.
type bookedDive struct {
	PersonID      uuid.UUID
	ParticipantID uuid.UUID
	Role          string
	Attendance    string
	SessionID     uuid.UUID
	CourseID      uuid.UUID
	Title         string
	Kind          string
	State         string
	StartsAt      time.Time
	EndsAt        time.Time
	EndedAt       *time.Time
	TimeZone      string
	DiveID        uuid.UUID
	Number        int
	TrainingDive  *int
	Dives         int // of the session
	Place         int // of the dive among them, from 1
	SiteDepth     *units.Reading
	Altitude      *units.Reading
	MostDepth     *string // of the training dive, or of confined water: "12 m"
	LeastTime     *string // of the training dive: "15 min"
	Plan          *gasplan.DiveInput
	PlanAscent    *gasplan.Quantity // of the plan: a usual ascent with its stop
	PlanOfDive    bool              // the plan is for this dive alone, so that it knows when it starts
}

const bookedSQL = `
	SELECT p.person_id, p.id AS participant_id, p.role, p.attendance, s.id AS session_id, s.course_id,
		s.title, s.kind, s.state, s.starts_at, s.ends_at, s.ended_at, s.time_zone,
		d.id AS dive_id, d.number, d.training_dive,
		count(*) OVER (PARTITION BY p.id)::int AS dives,
		(row_number() OVER (PARTITION BY p.id ORDER BY d.number))::int AS place,
		t.max_depth AS site_depth, t.altitude,
		CASE s.kind WHEN 'open' THEN n.most_depth ELSE y.content->>'confined_max_depth' END AS most_depth,
		n.least_time, g.plan, g.plan_ascent, COALESCE(g.plan_of_dive, false) AS plan_of_dive
	FROM sessions_session s
	JOIN sessions_participant p ON p.centre_id = s.centre_id AND p.session_id = s.id
	JOIN sessions_dive d ON d.centre_id = s.centre_id AND d.session_id = s.id
	LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
	LEFT JOIN courses_course c ON c.centre_id = s.centre_id AND c.id = s.course_id
	LEFT JOIN courses_syllabus y
		ON y.centre_id = s.centre_id AND y.syllabus_id = c.syllabus_id AND y.number = c.syllabus_number
	LEFT JOIN LATERAL (
		SELECT x->>'max_depth' AS most_depth, x->>'least_duration' AS least_time
		FROM jsonb_array_elements(
			CASE jsonb_typeof(y.content->'dives') WHEN 'array' THEN y.content->'dives' ELSE '[]' END) x
		WHERE (x->>'number')::int = d.training_dive
		LIMIT 1) n ON true
	LEFT JOIN LATERAL (
		SELECT x.input->'dive' AS plan, x.result->'group'->'ascent_time' AS plan_ascent,
			r.dive_id IS NOT NULL AS plan_of_dive
		FROM plans_pressure r
		JOIN gas_plan x ON x.centre_id = r.centre_id AND x.id = r.plan_id
		WHERE r.centre_id = s.centre_id
			AND r.session_id = s.id
			AND r.participant_id = p.id
			AND (r.dive_id = d.id OR r.dive_id IS NULL)
		ORDER BY r.dive_id NULLS LAST
		LIMIT 1) g ON true
	WHERE s.centre_id = app_centre()
		AND p.person_id = ANY (@persons)
		AND s.starts_at >= @from
		AND s.starts_at < @to
	ORDER BY s.starts_at, s.id, p.id, d.number`

// recordedDive is a dive as it was logged.
type recordedDive struct {
	PersonID      uuid.UUID
	ParticipantID uuid.UUID
	StartID       uuid.UUID
	DiveID        uuid.UUID
	InAt          time.Time
	OutAt         *time.Time
	Depth         *units.Reading // the greatest
}

const recordedSQL = `
	SELECT p.person_id, d.participant_id, d.start_id, d.dive_id, d.in_at, d.out_at, d.depth
	FROM sessions_session s
	JOIN sessions_participant p ON p.centre_id = s.centre_id AND p.session_id = s.id
	JOIN waterlog_dive d ON d.centre_id = p.centre_id AND d.participant_id = p.id
	WHERE s.centre_id = app_centre()
		AND p.person_id = ANY (@persons)
		AND s.starts_at >= @from
		AND s.starts_at < @to
	ORDER BY d.in_at, d.start_id`

// QueueDives adds the reading of people's dives to a batch: of the sessions that begin
// before to. The function that it returns has the dives by person, once the batch was
// sent. An unfinished dive of a session under way lasts until now.
func QueueDives(b *pgx.Batch, persons []uuid.UUID, to, now time.Time) func() map[uuid.UUID][]Dive {
	var planned []bookedDive
	var recorded []recordedDive
	args := pgx.StrictNamedArgs{"persons": persons, "from": to.Add(-lookBehind - 24*time.Hour), "to": to}
	pg.QueueRows(b, &planned, bookedSQL, args)
	pg.QueueRows(b, &recorded, recordedSQL, args)
	return func() map[uuid.UUID][]Dive { return merge(planned, recorded, now) }
}

// merge returns dives by person: as they were recorded, or else, where they count, as
// they were planned.
func merge(planned []bookedDive, recorded []recordedDive, now time.Time) map[uuid.UUID][]Dive {
	type key struct{ participant, dive uuid.UUID }
	done := map[key][]recordedDive{}
	for _, d := range recorded {
		k := key{d.ParticipantID, d.DiveID}
		done[k] = append(done[k], d)
	}
	out := map[uuid.UUID][]Dive{}
	ended := map[uuid.UUID]time.Time{} // by participant: their last time out in that session
	for _, p := range planned {
		own := done[key{p.ParticipantID, p.DiveID}]
		for _, d := range own {
			dive := p.done(d, now)
			out[p.PersonID] = append(out[p.PersonID], dive)
			ended[p.ParticipantID] = dive.Result.Dive.Out
		}
		if len(own) == 0 && p.counts() {
			dive := p.planned(ended[p.ParticipantID])
			out[p.PersonID] = append(out[p.PersonID], dive)
			ended[p.ParticipantID] = dive.Result.Dive.Out
		}
	}
	return out
}

// counts reports whether a dive of which nothing was recorded counts as one: before and
// during its session for participants who are expected or present, and after it was
// closed for those who were present, since an unrecorded dive leaves its nitrogen too.
func (p bookedDive) counts() bool {
	switch p.State {
	case "planned", "under_way":
		return p.Attendance == "expected" || p.Attendance == "present" || p.Attendance == "late"
	case "closed":
		return p.Attendance == "present" || p.Attendance == "late"
	}
	return false
}

// leastApart is the least interval between two planned dives of a session when the first
// took longer than planned: 10 min, from which the tables count a surface interval.
const leastApart = 10 * time.Minute

// planned returns the dive as planned, in its share of the session and after the time
// out of the dive before it there.
func (p bookedDive) planned(before time.Time) Dive {
	d := p.base()
	in, under, from := p.times()
	if !before.IsZero() && in.Before(before.Add(leastApart)) {
		in = before.Add(leastApart)
	}
	d.Unrecorded = p.State == "closed"
	d.TimeFrom = from
	d.set(p, p.DiveID, in, in.Add(under))
	d.Result.Dive.Depth, d.DepthFrom = p.depth()
	return d
}

// done returns the dive as recorded, and as planned where nothing was recorded. Without
// a time out it lasts until now while the session does, and at least as long as planned.
func (p bookedDive) done(r recordedDive, now time.Time) Dive {
	d := p.base()
	d.StartID, d.TimeFrom, d.DepthFrom = &r.StartID, Recorded, Recorded
	if depth := r.Depth; depth != nil && depth.Value > 0 {
		d.Result.Dive.Depth = *depth
	} else {
		d.Result.Dive.Depth, d.DepthFrom = p.depth()
	}
	_, under, from := p.times()
	out := r.InAt.Add(under)
	switch {
	case r.OutAt != nil:
		out = *r.OutAt
	default:
		d.Running, d.TimeFrom = true, from
		if end := earlier(now, p.EndsAt); p.EndedAt == nil && end.After(out) {
			out, d.TimeFrom = end, UntilNow
		}
	}
	d.set(p, r.StartID, r.InAt, out)
	d.Result.Dive.Done = true
	return d
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// base returns the dive without its times and its depth.
func (p bookedDive) base() Dive {
	return Dive{PersonID: p.PersonID, ParticipantID: p.ParticipantID, Role: p.Role, SessionID: p.SessionID,
		CourseID: p.CourseID, SessionTitle: p.Title, SessionKind: p.Kind, DiveID: p.DiveID, Number: p.Number,
		TrainingDive: p.TrainingDive}
}

// set sets the key of the dive and its times, in the session's zone.
func (d *Dive) set(p bookedDive, key uuid.UUID, in, out time.Time) {
	zone, err := when.Zone(p.TimeZone, "")
	if err != nil {
		zone = time.UTC // a zone that was known once and is no more
	}
	dive := &d.Result.Dive
	dive.Key, dive.In, dive.Out, dive.Ascents = key.String(), in.In(zone), out.In(zone), 1
	if p.Plan != nil {
		dive.Ascents = max(1, p.Plan.Ascents) // practice ascents are known from the plan alone
	}
	if p.Altitude != nil {
		dive.Altitude = *p.Altitude
	}
	d.On = when.DayOf(in, zone)
}

// depth returns the depth of the confirmed plan, or else the greatest depth that the
// dive may have, and its source.
func (p bookedDive) depth() (units.Reading, Origin) {
	if p.Plan != nil {
		return p.Plan.Depth.Reading(), ConfirmedPlan
	}
	site := p.SiteDepth
	if p.MostDepth != nil {
		most, err := units.ParseReading(*p.MostDepth)
		if err == nil && most.Unit.Dimension() == units.Depths && (site == nil || most.Compare(*site) <= 0) {
			return most, OfTrainingDive
		}
	}
	if site == nil {
		return units.Reading{}, OfSite
	}
	return *site, OfSite
}

// times returns the planned time in and the time under water: the confirmed plan's time
// and its ascent, or else the dive's share of the session.
func (p bookedDive) times() (in time.Time, under time.Duration, from Origin) {
	in, under = p.share()
	if p.Plan == nil {
		return in, under, SessionLength
	}
	out := in.Add(under)
	under = minutesOf(&p.Plan.PlannedTime) + minutesOf(p.PlanAscent)
	if p.PlanOfDive && p.Plan.StartsAt != nil {
		return *p.Plan.StartsAt, under, ConfirmedPlan
	}
	return out.Add(-under), under, ConfirmedPlan
}

// minutesOf returns a quantity of time, 0 for nil.
func minutesOf(q *gasplan.Quantity) time.Duration {
	if q == nil || q.Reading().Unit.Dimension() != units.Times {
		return 0
	}
	return time.Duration(q.Reading().Minutes() * float64(time.Minute))
}

// share returns the time in and the time under water of a dive without a plan: the
// session is shared evenly among its dives. In confined water the dive takes the whole
// share; in open water its second half, since the first goes to dressing and briefing,
// and never less than the training dive's least duration. Our choice: rather too long
// and too late, which leaves the shorter interval after it.
func (p bookedDive) share() (in time.Time, under time.Duration) {
	share := p.EndsAt.Sub(p.StartsAt) / time.Duration(max(1, p.Dives))
	under = share
	if p.Kind == "open" {
		under = share / 2
		if p.LeastTime != nil {
			if least, err := units.ParseReading(*p.LeastTime); err == nil &&
				least.Unit.Dimension() == units.Times {
				under = max(under, time.Duration(least.Minutes()*float64(time.Minute)))
			}
		}
	}
	out := p.StartsAt.Add(share * time.Duration(p.Place))
	return out.Add(-under), under
}
