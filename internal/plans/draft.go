package plans

import (
	"context"

	"tankside/internal/actor"
	"tankside/internal/gasplan"
)

// Draft computes a plan with the centre's settings and stores nothing. It returns the
// input too, with these settings in it. Fault: invalid_request where nothing can be
// computed.
func (s *Service) Draft(ctx context.Context, by actor.Actor, in gasplan.Input) (gasplan.Input, gasplan.Result,
	error) {
	c, err := s.Settings(ctx, by)
	if err != nil {
		return in, gasplan.Result{}, err
	}
	asked := in.Settings
	in = in.At(c.Settings)
	out, err := gasplan.Calculate(in)
	if err == nil {
		out.Findings = append(out.Findings, judgeSettings(asked, c.Settings)...)
	}
	return in, out, err
}
