package planning

import (
	"context"

	"tankside/internal/actor"
	"tankside/internal/gasplan"
)

// Draft works out a plan as the centre plans gas and stores nothing. It gives
// the input too, with the centre's settings in it.
func (s *Service) Draft(ctx context.Context, by actor.Actor, in gasplan.Input) (gasplan.Input, gasplan.Result,
	error) {
	c, err := s.CentreGas(ctx, by)
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
