package httpapi

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/hex"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"tankside/api"
	"tankside/internal/assessment"
	"tankside/internal/desk"
	"tankside/internal/form"
	"tankside/internal/people"
	"tankside/internal/syllabus"
)

// progressHandlers serves progress and training records.
type progressHandlers struct {
	assessment *assessment.Service
	desk       *desk.Service
}

// GetProgress implements GET /v1/enrolments/{id}/progress.
func (h progressHandlers) GetProgress(ctx context.Context,
	r api.GetProgressRequestObject) (api.GetProgressResponseObject, error) {
	p, err := h.assessment.Progress(ctx, callerOf(ctx), r.ID)
	return api.GetProgress200JSONResponse{ProgressJSONResponse: api.ProgressJSONResponse{Body: progressView(p)}}, err
}

// GetCourseProgress implements GET /v1/courses/{id}/progress, as JSON or as a
// comma-separated list.
func (h progressHandlers) GetCourseProgress(ctx context.Context,
	r api.GetCourseProgressRequestObject) (api.GetCourseProgressResponseObject, error) {
	list, y, err := h.assessment.CourseProgress(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	if strings.Contains(given(r.Params.Accept, ""), "text/csv") {
		text, err := progressTable(list, y)
		return api.GetCourseProgress200TextCsvResponse{Body: bytes.NewReader(text),
			ContentLength: int64(len(text))}, err
	}
	return api.GetCourseProgress200JSONResponse{Body: api.CourseProgress{CourseID: r.ID,
		Items: each(list, progressView),
		Skills: each(y.Skills, func(k syllabus.Skill) api.SkillHead {
			return api.SkillHead{Code: k.Code, Title: k.Title, Setting: string(k.Setting)}
		})}}, nil
}

// progressTable writes a row for each student and a column for each skill,
// theory part and training dive. A name that a spreadsheet would take for a
// formula is put in harmless form.
func progressTable(list []assessment.Progress, y syllabus.Syllabus) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	header := []string{"student", "enrolment_id", "state"}
	for _, k := range y.Skills {
		header = append(header, k.Code)
	}
	for _, p := range y.Theory {
		header = append(header, "theory "+p.Code)
	}
	for _, d := range y.Dives {
		header = append(header, "dive "+syllabus.CountOf(d.Number).String())
	}
	rows := [][]string{header}
	for _, p := range list {
		row := []string{harmless(p.Name), p.EnrolmentID.String(), string(p.State)}
		for _, k := range p.Skills {
			row = append(row, string(k.State))
		}
		for _, t := range p.Theory {
			row = append(row, string(t.State))
		}
		for _, d := range p.Dives {
			row = append(row, string(d.State))
		}
		rows = append(rows, row)
	}
	err := w.WriteAll(rows)
	return out.Bytes(), err
}

// formula are the characters by which a spreadsheet may take a cell for a formula,
// the full-width ones of East Asian keyboards included (OWASP, CSV injection).
const formula = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"

// harmless returns a cell in a form that no spreadsheet takes for a formula.
func harmless(cell string) string {
	if r, _ := utf8.DecodeRuneInString(cell); cell != "" && strings.ContainsRune(formula, r) {
		return "'" + cell
	}
	return cell
}

func progressView(p assessment.Progress) api.Progress {
	out := api.Progress{EnrolmentID: p.EnrolmentID, PersonID: p.PersonID, PersonName: p.Name,
		State: string(p.State), DiveMinutes: p.DiveTime.Value.Float(),
		Flags: findings(p.Flags)}
	return fillProgress(out, p.Progress, p.Syllabus)
}

// fillProgress writes what is the same for a table and a record.
func fillProgress(out api.Progress, p syllabus.Progress, y syllabus.Syllabus) api.Progress {
	out.Skills = each(p.Skills, func(k syllabus.SkillProgress) api.SkillProgress {
		skill := y.Skill(k.Code)
		return api.SkillProgress{Code: k.Code, Title: skill.Title, Setting: string(skill.Setting),
			State: string(k.State), Attempts: k.Attempts,
			SignOffID: idOrNull(k.SignOff), CreditID: idOrNull(k.Credit), On: dayOrNull(k.On), Blocks: texts(k.Blocks), Flags: findings(k.Flags)}
	})
	out.Theory = each(p.Theory, func(t syllabus.TheoryProgress) api.TheoryProgress {
		var best *float64
		if !t.Best.IsZero() {
			best = new(t.Best.Value.Float())
		}
		return api.TheoryProgress{Code: t.Code, Title: y.TheoryPart(t.Code).Title, State: string(t.State),
			BestPercent: orNull(best), On: dayOrNull(t.On)}
	})
	out.Dives = each(p.Dives, func(d syllabus.DiveProgress) api.DiveProgress {
		return api.DiveProgress{Number: d.Number, State: string(d.State), DiveID: idOrNull(d.Dive),
			On: dayOrNull(d.On), Blocks: texts(d.Blocks),
			After: unlessEmpty(d.After), Flags: findings(d.Flags)}
	})
	return out
}

func idOrNull(text string) nullable.Nullable[openapi_types.UUID] {
	id, err := uuid.Parse(text)
	if err != nil {
		return orNull[openapi_types.UUID](nil)
	}
	return orNull(&id)
}

func dayOrNull(d syllabus.Day) nullable.Nullable[openapi_types.Date] { return form.DateOf(string(d)) }

// GetRecord implements GET /v1/enrolments/{id}/record.
func (h progressHandlers) GetRecord(ctx context.Context,
	r api.GetRecordRequestObject) (api.GetRecordResponseObject, error) {
	rec, err := h.desk.Record(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetRecord200JSONResponse{RecordJSONResponse: api.RecordJSONResponse{Body: recordView(rec)}}, nil
}

func recordView(r assessment.Record) api.Record {
	progress := api.Progress{EnrolmentID: r.EnrolmentID, PersonID: r.PersonID, PersonName: r.Name,
		State:       string(r.State),
		DiveMinutes: r.Progress.DiveTime.Value.Float(), Flags: findings(r.Flags())}
	return api.Record{
		EnrolmentID:    r.EnrolmentID,
		PersonID:       r.PersonID,
		PersonName:     r.Name,
		BirthOn:        date(r.BirthOn),
		State:          string(r.State),
		Centre:         r.Centre,
		CourseID:       r.CourseID,
		Course:         r.Course,
		SyllabusID:     r.SyllabusID,
		SyllabusNumber: r.SyllabusNo,
		SyllabusTitle:  r.Syllabus.Title,
		MadeAt:         r.MadeAt.UTC(),
		SignedAs:       orNull(signedAsView(r.SignedAs)),
		Corrections: each(r.Corrections,
			func(c assessment.Correction) api.Correction { return correctionView(people.Correction(c)) }),
		Sessions:  each(r.Sessions, attendedView),
		Dives:     each(r.Dives, loggedView),
		GasChecks: each(r.GasChecks, verdictCount),
		Theory:    each(r.Results, theoryView),
		Attempts:  each(r.Attempts, attemptView),
		Credits:   each(r.Credits, creditView),
		SignOffs:  each(r.SignOffs, func(o assessment.SignedOff) api.SignOff { return signOffView(o, nil) }),
		Completions: each(r.Completions,
			func(c assessment.Completion) api.Completion { return completionView(c, nil) }),
		Progress: fillProgress(progress, r.Progress, r.Syllabus),
		Ledger: each(r.Chain, func(l assessment.Link) api.LedgerLink {
			return api.LedgerLink{Seq: l.Seq, Kind: string(l.Kind), RefID: l.RefID, At: l.At.UTC(),
				Hash: hex.EncodeToString(l.Hash)}
		}),
	}
}

func signedAsView(s *assessment.SignedAs) *api.SignedAs {
	if s == nil {
		return nil
	}
	return &api.SignedAs{Name: s.Name, BirthOn: date(s.BirthOn), RefID: s.RefID, SignedAt: s.SignedAt.UTC()}
}

func attendedView(a assessment.AttendedSession) api.SessionAttended {
	return api.SessionAttended{SessionID: a.SessionID, CourseID: a.CourseID, Title: a.Title, Kind: a.Kind,
		StartsAt: a.StartsAt.UTC(), EndsAt: a.EndsAt.UTC(),
		State: a.State, Attendance: a.Attendance, Instructor: orNull(a.InCharge)}
}
