package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"
)

// pool plays the session in confined water: nobody goes in before the last has acknowledged the briefing.
func (s *story) pool() {
	const title = "Pool 1"
	s.at("2027-06-04T08:00:00Z")
	given := s.brief(title, "2027-06-04T07:50:00Z", "Nuno")
	r, err := s.as("Ines").OpenSessionWithResponse(s.ctx, s.sessions[title].ID, &OpenSessionParams{}, Accepting{})
	check(err)
	fmt.Println("refused:", refusedBy("sessions.not_briefed", r.Body, r.ApplicationProblemJSON422))
	own, err := s.as("Nuno").AcknowledgeBriefingWithResponse(s.ctx, given, AcknowledgeOwn{})
	check(err)
	got("acknowledgement", own.Body, own.JSON200)
	fmt.Println("acknowledged: Nuno")
	s.open(title)
	s.callRoll(title, "2027-06-04T07:55:00Z")
	s.at("2027-06-04T10:30:00Z")
	part := s.participants(title)
	reading := Pressure{Value: 1750, Unit: PressureUnitPsi}
	signalled := Pressure{Value: 1800, Unit: PressureUnitPsi}
	s.gasChecks(title, GasCheckAdd{ID: uuid.New(), ParticipantID: part["Quinn"].ID, Reading: &reading,
		Signalled: &signalled, WitnessedAt: moment("2027-06-04T09:10:00Z")})
	skills := s.skills(SyllabusSkillSettingConfined)
	s.attempts(title, nil, "2027-06-04T09:30:00Z", skills)
	s.sign(title, nil, skills)
	s.end(title)
}

// brief records a briefing, and that all but one said that they understood it. It returns its id.
func (s *story) brief(title, at, but string) uuid.UUID {
	b := s.briefing
	low := b.Low[title]
	var heard []BriefingGiveHeard
	for name, p := range s.participants(title) {
		if name != but {
			heard = append(heard, BriefingGiveHeard{PersonID: p.PersonID, How: BriefedHowSaidSo})
		}
	}
	r, err := s.as("Ines").RecordBriefingWithResponse(s.ctx, s.sessions[title].ID, BriefingGive{
		BriefedAt: moment(at), Convention: house, CheckEvery: nullable.NewNullableWithValue(b.CheckEvery),
		Pressures: &BriefingPressures{Start: &b.Start, Turn: &b.Turn, Low: &low}, Heard: &heard})
	check(err)
	given := got("briefing", r.Body, r.JSON201)
	fmt.Println("briefed:", title, len(given.People))
	return given.ID
}

func (s *story) gasChecks(title string, checks ...GasCheckAdd) {
	r, err := s.as("Ines").RecordGasChecksWithResponse(s.ctx, s.sessions[title].ID, GasChecks{Items: checks})
	check(err)
	recorded("gas check", got("gas check", r.Body, r.JSON200).Items)
	list, err := s.as("Ines").ListGasChecksWithResponse(s.ctx, s.sessions[title].ID, &ListGasChecksParams{})
	check(err)
	for _, c := range got("gas checks", list.Body, list.JSON200).Items {
		fmt.Println("gas check:", c.Verdict)
	}
}

// skills returns the skills of a setting, each after those of it that come before.
func (s *story) skills(setting SyllabusSkillSetting) (out []SyllabusSkill) {
	waiting := slices.DeleteFunc(slices.Clone(s.syllabus.Skills),
		func(k SyllabusSkill) bool { return k.Setting != setting })
	waits := func(k SyllabusSkill) bool {
		return k.Prerequisites != nil && slices.ContainsFunc(waiting,
			func(o SyllabusSkill) bool { return slices.Contains(*k.Prerequisites, o.Code) })
	}
	for len(waiting) > 0 {
		i := slices.IndexFunc(waiting, func(k SyllabusSkill) bool { return !waits(k) })
		out, waiting = append(out, waiting[i]), slices.Delete(waiting, i, i+1)
	}
	return out
}

// attempts records that all students met skills, in each role and by values that just meet the criterion.
func (s *story) attempts(title string, dive *uuid.UUID, at string, skills []SyllabusSkill) {
	part := s.participants(title)
	var items []DrillAttemptAdd
	for _, name := range s.inGroup() {
		for _, k := range skills {
			roles := []*DrillAttemptAddRole{nil}
			if k.Roles != nil && len(*k.Roles) > 0 {
				roles = nil
				for _, r := range *k.Roles {
					role := DrillAttemptAddRole(r)
					roles = append(roles, &role)
				}
			}
			for _, role := range roles {
				items = append(items, DrillAttemptAdd{ID: uuid.New(), ParticipantID: part[name].ID, Skill: k.Code,
					Met: true, Role: role, DiveID: dive, Measures: justMet(k.Criterion), WitnessedAt: moment(at)})
			}
		}
	}
	for chunk := range slices.Chunk(items, 100) {
		r, err := s.as("Ines").RecordDrillAttemptsWithResponse(s.ctx, s.sessions[title].ID,
			DrillAttempts{Items: chunk})
		check(err)
		recorded("attempt", got("attempts", r.Body, r.JSON200).Items)
	}
	fmt.Println("attempts:", title, len(items))
}

// justMet returns values that just meet a criterion.
func justMet(c SkillCriterion) *[]AttemptMeasure {
	out := []AttemptMeasure{}
	add := func(measures []SkillMeasure) {
		for _, m := range measures {
			limit, err := m.AtLeast.Get()
			if err != nil {
				limit, err = m.AtMost.Get()
				check(err)
			}
			out = append(out, AttemptMeasure{Name: m.Name, Value: limit.Value, Unit: AttemptMeasureUnit(limit.Unit)})
		}
	}
	if c.Measures != nil {
		add(*c.Measures)
	}
	if c.EitherOf != nil && len(*c.EitherOf) > 0 {
		add((*c.EitherOf)[0].Measures)
	}
	return &out
}

// sign signs skills off for all students.
func (s *story) sign(title string, dive *uuid.UUID, skills []SyllabusSkill) {
	signed := 0
	for _, name := range s.inGroup() {
		var wish SignOffs
		for _, k := range skills {
			wish.Items = append(wish.Items, SignOffAdd{ID: uuid.New(), EnrolmentID: s.enrolments[name],
				Skill: k.Code, DiveID: dive})
		}
		r, err := s.as("Ines").CreateSignOffsWithResponse(s.ctx, s.sessions[title].ID, &CreateSignOffsParams{}, wish)
		check(err)
		results, err := got("sign-offs", r.Body, r.JSON200).Result.Get()
		check(err)
		recorded("sign-off for "+name, results.Items)
		signed += len(results.Items)
	}
	fmt.Println("signed:", title, signed)
}

// dive logs a dive of everybody in a session: times in, gas checks from the water in a batch, times out.
func (s *story) dive(title string, n int, row map[string]string) *uuid.UUID {
	dive, depth, lasted := s.sessions[title].Dives[n].ID, number(row["depth_m"]), number(row["minutes"])
	in := moment(row["in_at"])
	out := in.Add(time.Duration(lasted) * time.Minute)
	s.at(out.Add(5 * time.Minute).Format(time.RFC3339))
	var ins TimesIn
	var outs TimesOut
	var looks []GasCheckAdd
	for name, p := range s.participants(title) {
		c, id := s.cylinder, uuid.New()
		deepest, left := metres(depth), s.endPressure(name, depth, lasted)
		ins.Items = append(ins.Items, TimeIn{ID: id, ParticipantID: p.ID, InAt: in, CylinderSize: &c.WaterVolume,
			CylinderRating: &c.WorkingPressure, StartPressure: &c.Start})
		outs.Items = append(outs.Items, TimeOut{ID: uuid.New(), TimeInID: id, OutAt: out, Depth: &deepest,
			EndPressure: &left})
		if p.Role == "student" {
			reading := s.endPressure(name, depth, 5)
			looks = append(looks, GasCheckAdd{ID: uuid.New(), ParticipantID: p.ID, DiveID: &dive,
				Reading: &reading, WitnessedAt: in.Add(5 * time.Minute)})
		}
	}
	r, err := s.as("Ines").RecordTimesInWithResponse(s.ctx, dive, ins)
	check(err)
	recorded("time in", got("times in", r.Body, r.JSON200).Items)
	s.batch(title, looks)
	ended, err := s.as("Ines").RecordTimesOutWithResponse(s.ctx, dive, outs)
	check(err)
	recorded("time out", got("times out", ended.Body, ended.JSON200).Items)
	fmt.Println("dived:", title, len(ins.Items))
	return &dive
}

// batch sends gas checks as a device does that had no coverage under way.
func (s *story) batch(title string, looks []GasCheckAdd) {
	session := s.sessions[title].ID
	now, err := s.as("Ines").WatchGasWithResponse(s.ctx, session)
	check(err)
	send := Batch{DeviceID: "slate-1", SentAt: got("watch", now.Body, now.JSON200).AsOf}
	for _, look := range looks {
		e := BatchEntry{ID: look.ID, Kind: BatchEntryKindGasCheck, SessionID: &session}
		text, err := json.Marshal(look)
		check(err)
		check(json.Unmarshal(text, &e.Body))
		var item Batch_Entries_Item
		check(item.FromBatchEntry(e))
		send.Entries = append(send.Entries, item)
	}
	r, err := s.as("Ines").SendBatchWithResponse(s.ctx, send)
	check(err)
	recorded("entry", got("batch", r.Body, r.JSON200).Items)
	fmt.Println("batch:", len(send.Entries))
}
