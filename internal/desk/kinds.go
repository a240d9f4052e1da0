package desk

import (
	"tankside/internal/access"
	"tankside/internal/journal"
)

// Kinds returns every kind of entry, in the order in which the
// entries of a batch are judged: what others name comes first. The last are kinds that no
// batch brings.
func (s *Service) Kinds() journal.Kinds {
	return journal.Kinds{
		s.sessions.RollCallKind(access.SessionsWrite),
		s.sessions.ConditionsKind(access.SessionsWrite),
		s.waterlog.TimeInKind(s.EnterTimesIn),
		s.waterlog.TimeOutKind(),
		s.waterlog.GasCheckKind(),
		s.waterlog.ResponseKind(),
		s.waterlog.LogCompletionKind(),
		s.waterlog.AttemptKind(),
		s.sessions.HeadCountKind(access.SessionsWrite),
		s.sessions.IncidentKind(),
		s.assessment.SignOffKind(access.SignOffsWrite),

		s.assessment.TheoryKind(),
		s.briefings.BriefingKind(),
		s.briefings.AcknowledgementKind(),
	}
}
