package planform

import (
	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/gasplan"
)

// PatchSettings applies a merge-patch; null removes a setting.
func PatchSettings(s *gasplan.GasSettings, p api.PlanSettingsPatch) {
	patch(&s.Law, p.Law)
	patch(&s.Stress, p.Stress)
	patch(&s.TurnRule, p.TurnRule)
	patch(&s.DivesADay, p.DivesADay)
	patch(&s.AscentsADay, p.AscentsADay)
	PatchQuantity(&s.SortOut, p.SortOut)
	PatchQuantity(&s.AscentSpeed, p.AscentSpeed)
	PatchQuantity(&s.StopDepth, p.StopDepth)
	PatchQuantity(&s.StopTime, p.StopTime)
	PatchQuantity(&s.Reserve, p.Reserve)
	PatchQuantity(&s.Floor, p.Floor)
	PatchQuantity(&s.OxygenLimit, p.OxygenLimit)
	PatchQuantity(&s.NoStopMargin, p.NoStopMargin)
}

// patch sets a member that the patch has, to its zero value for null.
func patch[T any](field *T, v nullable.Nullable[T]) {
	if v.IsSpecified() {
		var none T
		*field = none
		if !v.IsNull() {
			*field = v.MustGet()
		}
	}
}

// PatchQuantity sets a quantity that the patch has, to nil for null.
func PatchQuantity(field **gasplan.Quantity, v nullable.Nullable[api.Quantity]) {
	if v.IsSpecified() {
		*field = nil
		if !v.IsNull() {
			*field = new(gasplan.Quantity(v.MustGet()))
		}
	}
}
