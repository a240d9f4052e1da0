package gaswatch

import (
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/gas"
	"tankside/internal/ratio"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Agreed is what the participants of a session are held against: the pressures of the
// confirmed plans of record, those that they were told in the newest briefing, and the
// centre's floors. The session was read with dayview.Agreed.
type Agreed struct{ view dayview.View }

// AgreedIn returns what the participants of a session that was read are held against.
func AgreedIn(v dayview.View) Agreed { return Agreed{v} }

// Marks returns the pressures that a participant is held against on a dive, in the
// unit of the gauge: the greatest of what was planned, what was told, and the
// centre's floor for the water of the session.
func (l Agreed) Marks(participant uuid.UUID, gauge units.Unit, dive *uuid.UUID) signal.Marks {
	return signal.Agreed{Plan: marksOf(l.planned(participant), gauge, dive),
		Briefing: marksOf(l.told(participant), gauge, dive),
		Floor:    l.view.Centre.Floors().For(l.view.Kind == ratio.Confined, gauge)}.Marks()
}

// agreedFor are pressures that were agreed with a participant about a dive.
type agreedFor struct {
	dive *uuid.UUID // nil: every dive of the session without pressures of its own
	dayview.Pressures
}

// planned returns the pressures of the plans of record.
func (l Agreed) planned(participant uuid.UUID) (out []agreedFor) {
	for _, p := range l.view.Record() {
		if p.ParticipantID == participant {
			out = append(out, agreedFor{p.DiveID, p.Pressures()})
		}
	}
	return out
}

// told returns the pressures of the newest briefing that names the participant.
func (l Agreed) told(participant uuid.UUID) (out []agreedFor) {
	p, there := l.view.Participant(participant)
	if !there {
		return nil
	}
	newest, _ := l.view.Newest(p.PersonID)
	for _, f := range newest.Figures {
		out = append(out, agreedFor{f.DiveID, dayview.Pressures{Turn: f.Turn, Low: f.Low}})
	}
	return out
}

// checkEvery returns the interval after which the gas of a participant who has been
// briefed is looked at again, 0 for none.
func (l Agreed) checkEvery(person uuid.UUID) time.Duration {
	newest, _ := l.view.Newest(person)
	if newest.CheckEveryS == nil || l.view.BriefedAt(person) == nil {
		return 0
	}
	return time.Duration(*newest.CheckEveryS) * time.Second
}

// marksOf returns the pressures that were agreed for a dive, else those for the whole
// session. Where the dive is not known, it returns those of the session, else those of
// the only dive that has any; of several dives it cannot be told, and none is returned.
func marksOf(all []agreedFor, gauge units.Unit, dive *uuid.UUID) signal.Marks {
	var session, named []signal.Marks
	for _, a := range all {
		m := signal.Marks{Turn: onGauge(a.Turn, gauge), LowGas: onGauge(a.Low, gauge)}
		switch {
		case a.dive == nil:
			session = append(session, m)
		case dive == nil || *a.dive == *dive:
			named = append(named, m)
		}
	}
	switch {
	case dive != nil && len(named) > 0:
		return named[0]
	case len(session) > 0:
		return session[0]
	case len(named) == 1:
		return named[0]
	}
	return signal.Marks{}
}

// number returns the number of a dive of the session, 0 for nil, which stands for every dive, and
// whether the session has the dive.
func (l Agreed) number(dive *uuid.UUID) (number int, there bool) {
	if dive == nil {
		return 0, true
	}
	for _, d := range l.view.Dives {
		if d.ID == *dive {
			return d.Number, true
		}
	}
	return 0, false
}

// onGauge returns a planned pressure as it is read on a gauge: in its unit,
// rounded up to its step of reading where the plan was made in another.
func onGauge(p *units.Reading, gauge units.Unit) *units.Reading {
	if p == nil || p.Unit == gauge {
		return p
	}
	return new(gas.CallPressure(p.Pressure(), gauge))
}
