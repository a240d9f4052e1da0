package demo

// planOfRecord plans the gas of a group for a dive, longer than it will last, and
// confirms the plan with the acceptances that it needs.
func (s *story) planOfRecord(d dive, group string) answer {
	session := d.session
	var divers []object
	for _, p := range s.must("Ines", get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if p["group_id"] == s.ids[session+" "+group] && p["attendance"] != "absent" &&
			p["attendance"] != "sat_out" {
			divers = append(divers, s.planDiver(p["id"]))
		}
	}
	plan := s.must("Ines", post, "/v1/sessions/"+s.ids[session]+"/plans",
		object{"dive_id": s.diveID(d.session, d.number),
			"group_id": s.ids[session+" "+group],
			"dive": object{"depth": metres(d.depth), "mean_depth": metres(9),
				"planned_time": minutes(float64(d.minutes + 25))}, "divers": divers,
			"settings": object{"turn_rule": "halves"}}).id()
	confirm := "/v1/plans/" + plan + "/confirm"
	a := s.send("Ines", post, confirm, object{})
	if a.status == 422 {
		var accept []object
		for _, f := range found(a.body) {
			if f["severity"] != "caution" {
				continue
			}
			accept = append(accept, object{"rule": f["rule"],
				"subject_id": f["subjects"].([]any)[0].(object)["id"],
				"reason":     "we come up when the first is low on gas"})
		}
		a = s.must("Ines", post, confirm, object{"accept": accept})
	}
	return a
}

// planned returns a person's turn and low-gas pressures, in bar.
func (s *story) planned(session, name string) (turn, low float64) {
	d := s.watched(session, name)
	if d["turn_pressure"] == nil {
		panic(storyStopped{"no confirmed plan gives " + name + " a turn pressure"})
	}
	return d["turn_pressure"].(object)["value"].(float64), d["low_gas_pressure"].(object)["value"].(float64)
}

// watched returns a person's row in the gas watch.
func (s *story) watched(session, name string) object {
	part := s.participant(session, name)
	for _, d := range s.must("Ines", get, "/v1/sessions/"+s.ids[session]+"/watch", nil).items() {
		if d["participant_id"] == part {
			return d
		}
	}
	panic(storyStopped{name + " is not watched"})
}

// gasWatch plays a student who comes to the turn pressure and then is low on gas; the
// crew records what it sees when it sees it.
func (s *story) gasWatch(session string, number int) {
	d := s.scenario.dive(session, number)
	s.retold(session, s.planOfRecord(d, "blue"))
	part, dive, path := s.participant(session, watchedStudent),
		s.diveID(session, number), "/v1/sessions/"+s.ids[session]
	look := func(after int, pressure float64) {
		s.must("Mara", post, "/v1/centre/set-clock", object{"now_at": later(d.in, after+1)})
		s.recorded(s.must("Ines", post, path+"/gas-checks",
			object{"items": []object{{"id": newID(), "participant_id": part, "dive_id": dive,
				"depth":        metres(d.depth),
				"reading":      bar(pressure),
				"signalled":    bar(float64(int(pressure/10) * 10)),
				"witnessed_at": later(d.in, after)}}}))
	}
	respond := func(after int, what string) {
		s.recorded(s.must("Ines", post, path+"/responses",
			object{"items": []object{{"id": newID(), "participant_id": part, "dive_id": dive, "what": what,
				"witnessed_at": later(d.in, after)}}}))
	}
	look(3, 185)
	turn, low := s.planned(session, watchedStudent)
	look(7, turn)
	s.expect(s.watched(session, watchedStudent)["pending_response"] == "turned",
		"the turn pressure was reached, and the watch expects no turn")
	s.tell("·", "%s's gauge shows %.0f bar, the turn pressure: the watch shows it, "+
		"and that the group has not turned yet.", watchedStudent, turn)
	respond(8, "turned")
	look(13, low+(turn-low)/2)
	s.expect(s.watched(session, watchedStudent)["pending_response"] == nil,
		"the group turned, and the watch still expects it to")
	look(17, low)
	expected := s.watched(session, watchedStudent)["pending_response"]
	s.expect(expected == "signalled_low", "low on gas, and the watch expects %v", expected)
	respond(17, "signalled_low")
	respond(18, "ascent_begun")
	s.expect(s.watched(session, watchedStudent)["pending_response"] == nil,
		"the ascent began, and the watch still expects something")
	s.tell("✓", "They turn a minute later. At %.0f bar %s signals low on gas, and a minute after that they "+
		"are on the way up.", low, watchedStudent)
	s.ends[watchedStudent] = low - 15
}

// retold plays a plan for the second dive, confirmed on the surface after the first:
// the participants whose pressures differ from their briefing are named, and briefed
// again before they go in.
func (s *story) retold(session string, confirmed answer) {
	s.expect(s.hasFinding(confirmed.body, "planning.brief_again"), "nobody is to be briefed again")
	s.tell("!", "On the surface Ines confirms her group's plan for the second dive. It names everybody whom "+
		"it gives other pressures than she told them this morning.")
	s.brief("Ines", session, at(7, "08:50"), "Kim")
	for _, x := range s.must("Ines", get, "/v1/people/"+s.people["Ines"].String()+"/days/2027-06-07",
		nil).body["sessions"].([]any) {
		s.expect(!s.hasFinding(x.(object), "planning.briefing_outdated"),
			"briefed again, and somebody still goes by other pressures")
	}
	s.tell("✓", "She briefs them again before they go in.")
}

// missedCheck plays a gas check of Tomas that nobody made: it is found once Lars
// reports that his log is complete, and not before.
func (s *story) missedCheck() {
	in := at(4, "18:10")
	path, dive, part, start := "/v1/sessions/"+s.ids["Evening pool"], s.diveID("Evening pool", 1),
		s.participant("Evening pool", "Tomas"), newID()
	s.recorded(s.must("Lars", post, "/v1/dives/"+dive+"/times-in",
		object{"items": []object{{"id": start, "participant_id": part, "in_at": in,
			"start_pressure": s.scenario.cylinder.Start}}}))
	s.logGasChecks("Lars", "missed check")
	s.recorded(s.must("Lars", post, "/v1/dives/"+dive+"/times-out",
		object{"items": []object{{"id": newID(), "time_in_id": start, "out_at": later(in, 12)}}}))
	log := func() object {
		for _, d := range s.must("Lars", get, path+"/gas-log", nil).items() {
			if d["participant_id"] == part {
				return objects(d["dives"])[0]
			}
		}
		panic(storyStopped{"the gas log does not know Tomas"})
	}
	s.expect(len(objects(log()["gaps"])) == 0, "a log that is not complete has late checks")
	s.recorded(s.must("Lars", post, path+"/log-completions",
		object{"items": []object{{"id": newID(), "dive_id": dive, "witnessed_at": later(in, 12)}}}))
	s.expect(len(objects(log()["gaps"])) == 1, "the missed check came out as %v", log()["gaps"])
	s.tell("!", "A look at the gas every two minutes was agreed. Lars says that his log is complete, "+
		"and the one that he missed is found.")
	s.why(log(), "signal.check_gap")
}

// logGasChecks logs the gas checks of a step of the story.
func (s *story) logGasChecks(who, step string) {
	var session string
	var checks []object
	for _, c := range s.scenario.checks {
		if c.step != step {
			continue
		}
		session = c.session
		check := object{"id": newID(), "participant_id": s.participant(c.session, c.person),
			"reading": c.reading, "witnessed_at": c.at}
		if c.dive > 0 {
			check["dive_id"] = s.diveID(c.session, c.dive)
		}
		if c.depth != nil {
			check["depth"] = c.depth
		}
		if c.signalled != nil {
			check["signalled"] = c.signalled
		}
		checks = append(checks, check)
	}
	s.recorded(s.must(who, post, "/v1/sessions/"+s.ids[session]+"/gas-checks", object{"items": checks}))
}

// watchedStudent is the student who becomes low on gas in the story.
const watchedStudent = "Rosa"
