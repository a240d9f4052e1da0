package httpapi

import (
	"time"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/when"
)

// acceptances reads the cautions that the caller takes on.
func acceptances(a *api.Accept) []journal.Acceptance {
	var out []journal.Acceptance
	for _, x := range given(a, nil) {
		out = append(out, journal.Acceptance{Rule: x.Rule, SubjectID: x.SubjectID, Reason: x.Reason})
	}
	return out
}

// results writes what became of entries, with what is to be said of the whole.
func results(all []journal.Result, found finding.List) api.EntryResults {
	return api.EntryResults{Items: each(all, resultView), Findings: findings(found)}
}

// resultsIn is results of entries of a session, which names it among the subjects of each finding.
func resultsIn(session uuid.UUID, all []journal.Result, found finding.List) api.EntryResults {
	return api.EntryResults{Items: each(journal.InSession(session, all), resultView),
		Findings: findingsIn(session, found)}
}

func resultView(r journal.Result) api.EntryResult {
	return api.EntryResult{ID: r.ID, Status: string(r.Status), Findings: findings(r.Findings),
		Problem: problemOrNull(r.Refusal, r.ID.String())}
}

// local writes a time of the clock on the wall.
func local(t time.Time) string { return t.Format(when.Layout) }

// zeroUnless reads an optional id.
func zeroUnless(id *uuid.UUID) uuid.UUID { return given(id, uuid.Nil) }

// entryView writes the header of something witnessed.
func entryView(h journal.Head) api.Entry {
	if h.SessionID != nil {
		h.Findings = h.Findings.InSession(h.SessionID.String())
	}
	out := api.Entry{
		ID:            h.ID,
		Kind:          string(h.Kind),
		Summary:       h.Summary,
		SessionID:     orNull(h.SessionID),
		OutingID:      orNull(h.OutingID),
		ParticipantID: orNull(h.ParticipantID),
		EnrolmentID:   orNull(h.EnrolmentID),
		WitnessedBy:   h.WitnessedBy,
		RecordedBy:    orNull(h.RecordedBy),
		WitnessedAt:   h.WitnessedAt.UTC(),
		RecordedAt:    h.RecordedAt.UTC(),
		VoidedAt:      utc(h.VoidedAt),
		VoidedBy:      orNull(h.VoidedBy),
		VoidReason:    orNull(h.VoidReason),
		DeviceID:      orNull[string](nil),
		DeviceAt:      utc(h.DeviceAt()),
		CorrectionS:   orNull[int64](nil),
		ByClockAt:     utc(nil),
		Doubt:         orNull[string](nil),
		Findings:      findings(h.Findings),
	}
	if t := h.Timing; t != nil {
		out.DeviceID, out.CorrectionS = orNull(&t.Device), orNull(&t.CorrectionS)
		out.ByClockAt, out.Doubt = utc(t.ByWall(h.WitnessedAt)), orNull((*string)(t.Doubt))
	}
	return out
}
