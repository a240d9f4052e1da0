package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

func of(value float64, unit string) body { return body{"value": value, "unit": unit} }

// pairInput is two divers on cylinders of 11.1 L and 207 bar at 18 m, one with
// a gauge in bar and one in psi.
func pairInput() body {
	diver := func(key string, start body) body {
		return body{"key": key, "cylinder": body{"water_volume": of(11.1, "L"),
			"working_pressure": of(207, "bar")}, "start": start, "breathing_rate": of(20, "L/min")}
	}
	return body{
		"dive":     body{"depth": of(18, "m"), "planned_time": of(25, "min")},
		"divers":   []body{diver("ines", of(200, "bar")), diver("sofia", of(2900, "psi"))},
		"settings": body{"law": "ideal", "stress": 1},
	}
}

// Common practice: near 800 psi, 50 to 55 bar, with these values.
func TestAPlanIsCalculatedAndNothingIsStored(t *testing.T) {
	s := open(t)
	before := s.everyRow()
	a := s.student.post("/v1/plans/calculate", pairInput()).want(http.StatusOK)
	require.EqualValues(t, of(55, "bar"), a.at("people.0.low"))
	require.EqualValues(t, of(800, "psi"), a.at("people.1.low"))
	require.EqualValues(t, of(63, "min"), a.at("group.no_stop_limit"))
	require.Nil(t, a.at("worked"))
	require.EqualValues(t, of(10, "bar"), a.at("input.settings.reserve"), "defaults are said")

	again := s.student.post("/v1/plans/calculate?worked=true", a.at("input")).want(http.StatusOK)
	require.Equal(t, a.at("people"), again.at("people"), "input can be sent again")
	require.NotEmpty(t, again.at("worked.0.psi"))
	require.NotEmpty(t, again.at("worked.1.bar"))
	require.NotEmpty(t, again.at("worked.1.no_stop.0.source"))
	require.Equal(t, before, s.everyRow())
}

// A calculation plans as the centre does: the floor below which no low-gas
// pressure may be is the centre's, whatever is asked.
func TestACalculationTakesTheCentresSettings(t *testing.T) {
	s := open(t)
	calculated := func(settings body) answer {
		in := pairInput()
		if in["settings"] = settings; settings == nil {
			delete(in, "settings")
		}
		return s.student.post("/v1/plans/calculate", in).want(http.StatusOK)
	}
	a := calculated(nil)
	require.Contains(t, a.at("assumptions"), "All settings are the program's own choice.")
	s.manager.patch("/v1/gas-settings",
		body{"settings": body{"floor": of(90, "bar"), "turn_rule": "halves",
			"stress": 1.6}}).want(http.StatusOK)

	a = calculated(nil)
	require.EqualValues(t, of(90, "bar"), a.at("people.0.low"))
	require.Equal(t, "halves", a.at("input.settings.turn_rule"))
	require.Contains(t, a.at("assumptions"),
		"Set by the centre: stress factor, floor, turn rule. All other settings are the program's own choice.")
	require.Equal(t, a.at("assumptions"), calculated(a.at("input.settings").(body)).at("assumptions"),
		"what is sent again is said in the same way")

	a = calculated(body{"floor": of(50, "bar"), "stress": 2, "reserve": of(10, "bar")})
	require.EqualValues(t, of(90, "bar"), a.at("people.0.low"), "no floor is below the centre's")
	require.EqualValues(t, 2, a.at("input.settings.stress"))
	require.Contains(t, a.at("assumptions"),
		"Chosen for this plan: stress factor. Set by the centre: floor, turn rule. All other settings are the program's own choice.")
	require.Equal(t, "caution", a.by("planning.bolder_than_centre")["severity"],
		"who asks for a lower floor is told")
}

func TestAPlanThatIsNotPossibleIsPointedAt(t *testing.T) {
	s := open(t)
	in := pairInput()
	in["divers"].([]body)[1]["start"] = of(2900, "bar")
	f := s.boss.post("/v1/plans/calculate", in).refused(http.StatusBadRequest,
		"invalid_request").by("planning.not_possible")
	require.Equal(t, "/divers/1/start", f["pointer"])
	require.NotEmpty(t, f["cures"])

	in = pairInput()
	in["dive"].(body)["altitude"] = of(400, "m")
	s.boss.post("/v1/plans/calculate", in).want(http.StatusOK).by("nostop.altitude_site")
}
