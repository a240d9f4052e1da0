package httpapi

import (
	"context"
	"fmt"
	"strings"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/diveday"
	"tankside/internal/gas"
	"tankside/internal/nostop"
	"tankside/internal/nostopform"
	"tankside/internal/units"
)

// diveDayHandlers serves a person's dives of a day and their breathing rate.
type diveDayHandlers struct {
	diveDay *diveday.Reader
}

// CalculateNoStop implements POST /v1/no-stop/calculate.
func (h diveDayHandlers) CalculateNoStop(_ context.Context,
	r api.CalculateNoStopRequestObject) (api.CalculateNoStopResponseObject, error) {
	asked, err := nostopform.Read(*r.Body)
	if err != nil {
		return nil, err
	}
	return api.CalculateNoStop200JSONResponse{NoStopDayJSONResponse: api.NoStopDayJSONResponse(asked.Judge().View(given(r.Params.Worked, false)))}, nil
}

// GetDivesOfDay implements GET /v1/people/{id}/days/{date}/dives.
func (h diveDayHandlers) GetDivesOfDay(ctx context.Context,
	r api.GetDivesOfDayRequestObject) (api.GetDivesOfDayResponseObject, error) {
	d, err := h.diveDay.DivesOn(ctx, callerOf(ctx), r.ID, r.Date.Time)
	return api.GetDivesOfDay200JSONResponse{DivesOfDayJSONResponse: api.DivesOfDayJSONResponse{Body: divesOfDayView(d)}}, err
}

func divesOfDayView(d diveday.Day) api.DivesOfDay {
	out := api.DivesOfDay{
		PersonID: d.PersonID,
		HeldOn:   date(d.On),
		Earlier:  each(d.Earlier, dayDiveView),
		Dives:    each(d.Dives, dayDiveView),
		Ascents:  d.Ascents(),
		Settings: nostopform.Settings(d.Settings),
		Flying:   nullable.NewNullNullable[api.NoStopWait](),
		GoingUp:  []api.NoStopWait{},
		Findings: findings(d.Findings),
		RuleBook: nostop.Source,
		Caution:  nostop.Advice,
	}
	if !d.Flying.None {
		wait := func(w nostop.Wait) api.NoStopWait { return nostopform.Wait(w, nostopform.Instants, false) }
		out.Flying.Set(wait(d.Flying))
		out.GoingUp = each(d.GoingUp, wait)
	}
	return out
}

func dayDiveView(d diveday.Dive) api.DayDive {
	return api.DayDive{
		ParticipantID: d.ParticipantID,
		Role:          d.Role,
		SessionID:     d.SessionID,
		CourseID:      d.CourseID,
		SessionTitle:  d.SessionTitle,
		SessionKind:   d.SessionKind,
		DiveID:        d.DiveID,
		Number:        d.Number,
		TrainingDive:  orNull(d.TrainingDive),
		TimeInID:      orNull(d.StartID),
		Unrecorded:    d.Unrecorded,
		Running:       d.Running,
		DepthFrom:     string(d.DepthFrom),
		TimeFrom:      string(d.TimeFrom),
		InAt:          d.Result.Dive.In.UTC(),
		OutAt:         d.Result.Dive.Out.UTC(),
		NoStop:        nostopform.Dive(d.Result, nostopform.Instants, false),
	}
}

// GetBreathingRate implements GET /v1/people/{id}/breathing-rate.
func (h diveDayHandlers) GetBreathingRate(ctx context.Context,
	r api.GetBreathingRateRequestObject) (api.GetBreathingRateResponseObject, error) {
	rate, err := h.diveDay.BreathingRate(ctx, callerOf(ctx), r.ID)
	return api.GetBreathingRate200JSONResponse{PersonRateJSONResponse: api.PersonRateJSONResponse{Body: personRateView(rate)}}, err
}

func personRateView(r diveday.BreathingRate) api.PersonRate {
	says := strings.ToUpper(r.From()[:1]) + r.From()[1:] + "."
	if r.Learned.Dives == 0 {
		says = fmt.Sprintf("Nothing is known yet: %s is the planning value for novices, as a course's study guide takes it for a first dive.",
			units.Read(gas.NoviceRate.In(units.UnitLPerMin), units.UnitLPerMin))
	}
	return api.PersonRate{
		PersonID:             r.PersonID,
		Novice:               r.Novice(),
		Says:                 says,
		DivesLearnedFrom:     r.Learned.Dives,
		OpenDivesLearnedFrom: r.Learned.Open,
		Planned:              rateUp(r.Learned.Planned),
		Typical:              rateUp(r.Learned.Typical),
		Low:                  rateDown(r.Learned.Low),
		Dives:                each(r.Dives, ratedDiveView),
		Unrated:              each(r.Unrated, unratedDiveView),
		Caution:              gas.Caution,
	}
}

func ratedDiveView(d diveday.RatedDive) api.RatedDive {
	return api.RatedDive{
		TimeInID:  d.StartID,
		DiveID:    d.DiveID,
		SessionID: d.SessionID,
		InAt:      d.InAt.UTC(),
		Basis:     string(d.Basis),
		Readings:  len(d.Readings),
		Rate:      rateUp(d.Estimate.Rate),
		Low:       rateDown(d.Estimate.Low),
		High:      rateUp(d.Estimate.High),
		Misread: each(d.Misread(), func(l diveday.RateReading) api.MisreadLook {
			return api.MisreadLook{What: l.What, ID: l.ID, At: l.At.UTC(), Reading: quantity(l.Reading)}
		}),
	}
}

func unratedDiveView(d diveday.UnratedDive) api.UnratedDive {
	return api.UnratedDive{TimeInID: d.StartID, DiveID: d.DiveID, SessionID: d.SessionID, InAt: d.InAt.UTC(),
		Because: d.Because}
}

// How finely rates are shown: 0.1 L/min and 0.01 cu ft/min, finer than any gauge
// tells.
const (
	litreStep     = 0.1
	cubicFootStep = 0.01
)

func rateUp(r units.Rate) api.RateInBoth { return rateInBoth(r, units.RoundUp) }

func rateDown(r units.Rate) api.RateInBoth { return rateInBoth(r, units.RoundDown) }

func rateInBoth(r units.Rate, round func(x, step float64) float64) api.RateInBoth {
	in := func(u units.Unit, step float64) api.Quantity { return quantity(units.Read(round(r.In(u), step), u)) }
	return api.RateInBoth{Litres: in(units.UnitLPerMin, litreStep),
		CubicFeet: in(units.UnitCuFtMin, cubicFootStep)}
}
