package httpapi

import (
	"context"
	"encoding/json"
	"strings"
	"time"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/offline"
)

// batchHandlers serves batches of entries and held entries.
type batchHandlers struct {
	offline  *offline.Service
	contract *contract.Contract
}

// SendBatch implements POST /v1/batches.
func (h batchHandlers) SendBatch(ctx context.Context,
	r api.SendBatchRequestObject) (api.SendBatchResponseObject, error) {
	read := func(raw json.RawMessage) offline.BatchEntry { return sent(h.contract, raw) }
	living, err := clocks(r.Body.Clocks)
	if err != nil {
		return nil, err
	}
	out, err := h.offline.Send(ctx, callerOf(ctx),
		offline.Batch{Device: r.Body.DeviceID, SentAt: r.Body.SentAt, Clocks: living,
			Entries: each(r.Body.Entries, read)})
	return api.SendBatch200JSONResponse{BatchResultsJSONResponse: api.BatchResultsJSONResponse{DeviceID: r.Body.DeviceID, ReceivedAt: out.ReceivedAt.UTC(),
		CorrectionS: int64(out.Correction / time.Second), Items: batchResults(out.Results)}}, err
}

// ListHeldEntries implements GET /v1/held-entries.
func (h batchHandlers) ListHeldEntries(ctx context.Context,
	r api.ListHeldEntriesRequestObject) (api.ListHeldEntriesResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := h.offline.HeldEntries(ctx, callerOf(ctx), given(r.Params.State, []string{"held"}),
		given(r.Params.SessionID, nil), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListHeldEntries200JSONResponse{HeldEntryListJSONResponse: api.HeldEntryListJSONResponse{Headers: api.HeldEntryListResponseHeaders{Link: link},
		Body: api.HeldEntryList{Items: each(list, heldView), NextCursor: orNull(cur)}}}, nil
}

// DropHeldEntry implements POST /v1/held-entries/{id}/drop.
func (h batchHandlers) DropHeldEntry(ctx context.Context,
	r api.DropHeldEntryRequestObject) (api.DropHeldEntryResponseObject, error) {
	held, err := h.offline.DropHeld(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	if err != nil {
		return nil, err
	}
	return api.DropHeldEntry200JSONResponse{HeldEntryJSONResponse: api.HeldEntryJSONResponse(heldView(held))}, nil
}

// JudgeHeldEntry implements POST /v1/held-entries/{id}/judge.
func (h batchHandlers) JudgeHeldEntry(ctx context.Context,
	r api.JudgeHeldEntryRequestObject) (api.JudgeHeldEntryResponseObject, error) {
	held, err := h.offline.JudgeHeld(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.JudgeHeldEntry200JSONResponse{HeldEntryJSONResponse: api.HeldEntryJSONResponse(heldView(held))}, nil
}

func heldView(h offline.Held) api.HeldEntry {
	out := api.HeldEntry{ID: h.ID, EntryID: h.EntryID, Kind: string(h.Kind), State: h.State,
		SessionID: orNull(h.SessionID), DiveID: orNull(h.DiveID),
		OutingID: orNull(h.OutingID), EnrolmentID: orNull(h.EnrolmentID), DeviceID: h.Device,
		PersonID: orNull(h.PersonID), PersonName: orNull(h.PersonName), DeviceAt: utc(h.DeviceAt),
		WitnessedAt: utc(h.WitnessedAt()), CorrectionS: h.CorrectionS, SentAt: h.SentAt.UTC(),
		ReceivedAt: h.ReceivedAt.UTC(), JudgedAt: utc(h.JudgedAt),
		Problem: problemOrNull(h.Why(), h.ID.String()), DroppedAt: utc(h.DroppedAt),
		DroppedBy: orNull(h.DroppedBy), DropReason: orNull(h.DropReason),
		Body: map[string]any{}, Clock: orNull[api.ClockReading](nil), ElapsedMs: orNull(h.ElapsedMS),
		ByClockAt: orNull[time.Time](nil),
		Doubt:     orNull((*string)(h.Doubt)), Sent: orNull[string](nil)}
	if h.ClockID != nil {
		out.Clock = orNull(&api.ClockReading{ID: *h.ClockID, TicksMs: *h.TicksMS})
	}
	if at := h.WitnessedAt(); at != nil {
		out.ByClockAt = utc(h.ByWall(*at))
	}
	if h.Sent != nil {
		out.Sent = orNull(new(strings.ToValidUTF8(string(h.Sent), "\uFFFD")))
	}
	_ = json.Unmarshal(h.Body, &out.Body) // the contract let only an object in
	return out
}

// problemOrNull writes a fault that concerns one item alone, null for none.
func problemOrNull(f *fault.Fault, instance string) nullable.Nullable[api.Problem] {
	if f == nil {
		return orNull[api.Problem](nil)
	}
	seen, status := answer.FaultOf(f)
	return orNull(new(answer.Problem(seen, status, instance)))
}
