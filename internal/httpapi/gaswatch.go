package httpapi

import (
	"context"
	"time"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/signal"
	"tankside/internal/training"
	"tankside/internal/units"

	"github.com/google/uuid"
)

// WatchGas implements GET /v1/sessions/{id}/watch.
func (s *server) WatchGas(ctx context.Context, r api.WatchGasRequestObject) (api.WatchGasResponseObject, error) {
	list, now, err := s.Training.Watch(ctx, []uuid.UUID{r.ID})
	return api.WatchGas200JSONResponse{GasWatchJSONResponse: api.GasWatchJSONResponse{SessionID: r.ID, AsOf: now.UTC(), Items: each(list, watchedView)}}, err
}

// watchedView is also what the live view sends of one participant.
func watchedView(w training.Watched) api.WatchedDiver {
	return api.WatchedDiver{
		ParticipantID:  w.ParticipantID,
		PersonID:       w.PersonID,
		PersonName:     w.Name,
		GroupID:        orNull(w.GroupID),
		Role:           w.Role,
		GaugeUnit:      string(w.GaugeUnit),
		DiveID:         orNull(w.DiveID),
		InAt:           utc(w.InAt),
		OutAt:          utc(w.OutAt),
		Last:           lastLookView(w),
		TurnPressure:   optionalQuantity(w.Marks.Turn),
		LowGasPressure: optionalQuantity(w.Marks.LowGas),
		CheckEvery:     everyView(w.CheckEvery),
		DueAt:          utc(w.DueAt),
		Reached:        each(w.Reached, reachedView),
		OpenResponse:   unlessEmpty(string(w.Open())),
		Trend:          trendView(w.Trend),
		NoTrend:        unlessEmpty(w.NoTrend),
		Findings:       findings(w.Findings()),
	}
}

// seconds writes how long something took or has lasted.
func seconds(d time.Duration) api.Quantity {
	return quantity(units.Read(d.Seconds(), units.UnitSecond))
}

// everyView writes an agreed interval, null for none.
func everyView(d time.Duration) nullable.Nullable[api.Quantity] {
	if d == 0 {
		return nullable.NewNullNullable[api.Quantity]()
	}
	return nullable.NewNullableWithValue(seconds(d))
}

func lastLookView(w training.Watched) nullable.Nullable[api.LastLook] {
	c := w.Last
	if c == nil {
		return nullable.NewNullNullable[api.LastLook]()
	}
	return nullable.NewNullableWithValue(api.LastLook{CheckID: c.ID, WitnessedAt: c.WitnessedAt.UTC(), Age: seconds(w.Age), Depth: optionalQuantity(c.Depth()),
		Reading: optionalQuantity(c.Reading()), Signalled: optionalQuantity(c.Signalled()), Verdict: string(c.Verdict)})
}

func reachedView(r signal.Reached) api.MarkReached {
	from := "reading"
	if r.Reported {
		from = "report"
	}
	return api.MarkReached{Mark: string(r.Mark), Limit: quantity(r.Limit), CheckID: uuid.MustParse(r.Look.ID), At: r.Look.At.UTC(), Found: quantity(r.Found), From: from,
		Expected: each(r.Expected, expectedView)}
}

func expectedView(e signal.Expected) api.ExpectedResponse {
	v := api.ExpectedResponse{What: string(e.What), State: string(e.State), After: seconds(e.After),
		EndedAt: nullable.NewNullNullable[time.Time](), EndedBy: nullable.NewNullNullable[uuid.UUID]()}
	if e.Ended != nil {
		v.EndedAt, v.EndedBy = utc(&e.Ended.At), nullable.NewNullableWithValue(uuid.MustParse(e.Ended.ID))
	}
	return v
}

func trendView(t *training.Trend) nullable.Nullable[api.GasTrend] {
	if t == nil {
		return nullable.NewNullNullable[api.GasTrend]()
	}
	return nullable.NewNullableWithValue(api.GasTrend{LowGasAt: t.LowGasAt.UTC(), EarliestAt: t.EarliestAt.UTC(), LatestAt: t.LatestAt.UTC(),
		FallsInAMinute: quantity(t.PerMinute), Readings: t.Readings, LeftOut: append([]uuid.UUID{}, t.LeftOut...), Depth: string(t.Depths)})
}
