package httpapi

import (
	"context"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/finding"
	"tankside/internal/people"
)

// courseHandlers serves courses and enrolments.
type courseHandlers struct {
	courses    *courses.Service
	coursesFor byDryRun[*courses.Service]
	desk       *desk.Service
	deskFor    byDryRun[*desk.Service]
	people     *people.Service
}

// ListCourses implements GET /v1/courses.
func (h courseHandlers) ListCourses(ctx context.Context,
	r api.ListCoursesRequestObject) (api.ListCoursesResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, descending(r.Params.Sort))
	if err != nil {
		return nil, err
	}
	from, err := since(r.Params.UpdatedSince)
	if err != nil {
		return nil, err
	}
	list, after, horizon, err := h.courses.Courses(ctx, callerOf(ctx),
		courses.CourseFilter{States: given(r.Params.State, nil), From: queryDay(r.Params.OnFrom),
			Before: queryDay(r.Params.OnBefore), Since: from}, p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListCourses200JSONResponse{CourseListJSONResponse: api.CourseListJSONResponse{Headers: api.CourseListResponseHeaders{Link: link},
		Body: api.CourseList{Items: each(list, courseView), NextCursor: orNull(cur),
			UpdatedToken: updatedToken(r.Params.Cursor, horizon)}}}, nil
}

// CreateCourse implements POST /v1/courses.
func (h courseHandlers) CreateCourse(ctx context.Context,
	r api.CreateCourseRequestObject) (api.CreateCourseResponseObject, error) {
	b := r.Body
	c, created, err := h.courses.CreateCourse(ctx, callerOf(ctx),
		courses.NewCourse{Key: creation(ctx, b.ID), SyllabusID: b.SyllabusID, SyllabusNumber: b.SyllabusNumber,
			CourseFields: courses.CourseFields{Title: b.Title, StartsOn: b.StartsOn.Time, EndsOn: b.EndsOn.Time,
				Places: b.Places, ExternalRefs: given(b.ExternalRefs, nil)}})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateCourse200JSONResponse{CourseJSONResponse: courseAnswer(c)}, nil
	}
	return api.CreateCourse201JSONResponse{Body: courseView(c),
		Headers: api.CreateCourse201ResponseHeaders{ETag: etag(c.Version), Location: "/v1/courses/" +
			c.ID.String()}}, nil
}

// GetCourse implements GET /v1/courses/{id}.
func (h courseHandlers) GetCourse(ctx context.Context,
	r api.GetCourseRequestObject) (api.GetCourseResponseObject, error) {
	c, err := h.courses.Course(ctx, callerOf(ctx), r.ID)
	return api.GetCourse200JSONResponse{CourseJSONResponse: courseAnswer(c)}, err
}

// ChangeCourse implements PATCH /v1/courses/{id}.
func (h courseHandlers) ChangeCourse(ctx context.Context,
	r api.ChangeCourseRequestObject) (api.ChangeCourseResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c, err := h.courses.ChangeCourse(ctx, callerOf(ctx), r.ID, version, func(f *courses.CourseFields) {
		patch(&f.Title, r.Body.Title)
		patchNull(&f.Places, r.Body.Places)
		f.ExternalRefs = patchRefs(f.ExternalRefs, r.Body.ExternalRefs)
		if r.Body.StartsOn != nil {
			f.StartsOn = r.Body.StartsOn.Time
		}
		if r.Body.EndsOn != nil {
			f.EndsOn = r.Body.EndsOn.Time
		}
	})
	return api.ChangeCourse200JSONResponse{CourseJSONResponse: courseAnswer(c)}, err
}

// CancelCourse implements POST /v1/courses/{id}/cancel.
func (h courseHandlers) CancelCourse(ctx context.Context,
	r api.CancelCourseRequestObject) (api.CancelCourseResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c, err := h.desk.EndCourse(ctx, callerOf(ctx),
		courses.Ending{CourseID: r.ID, State: "cancelled", Reason: r.Body.Reason, Version: version})
	return api.CancelCourse200JSONResponse{CourseJSONResponse: courseAnswer(c)}, err
}

// CloseCourse implements POST /v1/courses/{id}/close.
func (h courseHandlers) CloseCourse(ctx context.Context,
	r api.CloseCourseRequestObject) (api.CloseCourseResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c, err := h.desk.EndCourse(ctx, callerOf(ctx),
		courses.Ending{CourseID: r.ID, State: "closed", Reason: r.Body.Reason, Version: version})
	return api.CloseCourse200JSONResponse{CourseJSONResponse: courseAnswer(c)}, err
}

func courseAnswer(c courses.Course) api.CourseJSONResponse {
	return api.CourseJSONResponse{Headers: api.CourseResponseHeaders{ETag: etag(c.Version)},
		Body: courseView(c)}
}

func courseView(c courses.Course) api.Course {
	refs := c.ExternalRefs
	if refs == nil {
		refs = map[string]string{}
	}
	return api.Course{ID: c.ID, Version: c.Version, Title: c.Title, SyllabusID: c.SyllabusID,
		SyllabusNumber: c.SyllabusNumber, StartsOn: date(c.StartsOn), EndsOn: date(c.EndsOn),
		Places: orNull(c.Places), ActiveEnrolments: c.ActiveEnrolment, State: c.State,
		StateReason: orNull(c.StateReason), ExternalRefs: refs,
		CreatedAt: c.CreatedAt.UTC(), UpdatedAt: c.UpdatedAt.UTC()}
}

// ListCourseEnrolments implements GET /v1/courses/{id}/enrolments.
func (h courseHandlers) ListCourseEnrolments(ctx context.Context,
	r api.ListCourseEnrolmentsRequestObject) (api.ListCourseEnrolmentsResponseObject, error) {
	if _, err := h.courses.Course(ctx, callerOf(ctx), r.ID); err != nil {
		return nil, err
	}
	list, err := h.listEnrolments(ctx, courses.EnrolmentFilter{CourseIDs: []api.ID{r.ID}}, r.Params.Include,
		r.Params.Limit, r.Params.Cursor)
	return api.ListCourseEnrolments200JSONResponse{EnrolmentListJSONResponse: list}, err
}

// ListEnrolments implements GET /v1/enrolments.
func (h courseHandlers) ListEnrolments(ctx context.Context,
	r api.ListEnrolmentsRequestObject) (api.ListEnrolmentsResponseObject, error) {
	from, err := since(r.Params.UpdatedSince)
	if err != nil {
		return nil, err
	}
	list, err := h.listEnrolments(ctx,
		courses.EnrolmentFilter{CourseIDs: given(r.Params.CourseID, nil),
			PersonIDs: given(r.Params.PersonID, nil),
			States: given(r.Params.State,
				nil), Since: from}, r.Params.Include, r.Params.Limit, r.Params.Cursor)
	return api.ListEnrolments200JSONResponse{EnrolmentListJSONResponse: list}, err
}

func (h courseHandlers) listEnrolments(ctx context.Context, f courses.EnrolmentFilter,
	include *[]string, limit *int, cursor *string) (out api.EnrolmentListJSONResponse, err error) {
	p, err := paged(ctx, limit, cursor, false)
	if err != nil {
		return out, err
	}
	list, after, horizon, err := h.courses.Enrolments(ctx, callerOf(ctx), f, p)
	if err != nil {
		return out, err
	}
	who, err := includePeople(ctx, h.people, include,
		each(list, func(e courses.Enrolment) uuid.UUID { return e.PersonID }))
	if err != nil {
		return out, err
	}
	cur, link := next(ctx, after)
	items := each(list, func(e courses.Enrolment) api.Enrolment {
		out := enrolmentView(e, nil)
		out.Person, out.Withheld = who.of(e.PersonID)
		return out
	})
	return api.EnrolmentListJSONResponse{Headers: api.EnrolmentListResponseHeaders{Link: link},
		Body: api.EnrolmentList{Items: items, NextCursor: orNull(cur),
			UpdatedToken: updatedToken(cursor, horizon)}}, nil
}

// CreateEnrolment implements POST /v1/courses/{id}/enrolments.
func (h courseHandlers) CreateEnrolment(ctx context.Context,
	r api.CreateEnrolmentRequestObject) (api.CreateEnrolmentResponseObject, error) {
	e, found, created, err := h.coursesFor(r.Params.DryRun).Enrol(ctx, callerOf(ctx),
		courses.NewEnrolment{Key: creation(ctx, r.Body.ID), CourseID: r.ID, PersonID: r.Body.PersonID,
			Waiting: given(r.Body.Waiting, false)}, acceptances(r.Body.Accept))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateEnrolment200JSONResponse{EnrolmentDecidedJSONResponse: enrolmentDecided(e, found)}, nil
	}
	return api.CreateEnrolment201JSONResponse{Body: enrolmentView(e, found),
		Headers: api.CreateEnrolment201ResponseHeaders{ETag: etag(e.Version), Location: "/v1/enrolments/" +
			e.ID.String()}}, nil
}

// GetEnrolment implements GET /v1/enrolments/{id}.
func (h courseHandlers) GetEnrolment(ctx context.Context,
	r api.GetEnrolmentRequestObject) (api.GetEnrolmentResponseObject, error) {
	e, err := h.courses.Enrolment(ctx, callerOf(ctx), r.ID)
	return api.GetEnrolment200JSONResponse{EnrolmentJSONResponse: enrolmentAnswer(e)}, err
}

// ActivateEnrolment implements POST /v1/enrolments/{id}/activate.
func (h courseHandlers) ActivateEnrolment(ctx context.Context,
	r api.ActivateEnrolmentRequestObject) (api.ActivateEnrolmentResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	e, found, err := h.coursesFor(r.Params.DryRun).Activate(ctx, callerOf(ctx), r.ID, version,
		acceptances(given(r.Body, api.Accepting{}).Accept))
	return api.ActivateEnrolment200JSONResponse{EnrolmentDecidedJSONResponse: enrolmentDecided(e, found)}, err
}

// WithdrawEnrolment implements POST /v1/enrolments/{id}/withdraw.
func (h courseHandlers) WithdrawEnrolment(ctx context.Context,
	r api.WithdrawEnrolmentRequestObject) (api.WithdrawEnrolmentResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	e, found, err := h.desk.Withdraw(ctx, callerOf(ctx), r.ID, r.Body.Reason, version)
	out := enrolmentAnswer(e)
	out.Body.Findings = findings(found)
	return api.WithdrawEnrolment200JSONResponse{EnrolmentJSONResponse: out}, err
}

// TransferEnrolment implements POST /v1/enrolments/{id}/transfer.
func (h courseHandlers) TransferEnrolment(ctx context.Context,
	r api.TransferEnrolmentRequestObject) (api.TransferEnrolmentResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	e, found, created, err := h.deskFor(r.Params.DryRun).Transfer(ctx, callerOf(ctx),
		r.ID, r.Body.CourseID,
		creation(ctx, r.Body.ID), version, acceptances(r.Body.Accept))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.TransferEnrolment200JSONResponse{EnrolmentDecidedJSONResponse: enrolmentDecided(e,
			found)}, nil
	}
	return api.TransferEnrolment201JSONResponse{Body: enrolmentView(e, found),
		Headers: api.TransferEnrolment201ResponseHeaders{ETag: etag(e.Version), Location: "/v1/enrolments/" +
			e.ID.String()}}, nil
}

func enrolmentAnswer(e courses.Enrolment) api.EnrolmentJSONResponse {
	return api.EnrolmentJSONResponse{Headers: api.EnrolmentResponseHeaders{ETag: etag(e.Version)},
		Body: enrolmentView(e, nil)}
}

func enrolmentDecided(e courses.Enrolment, found finding.List) api.EnrolmentDecidedJSONResponse {
	return api.EnrolmentDecidedJSONResponse{Headers: api.EnrolmentDecidedResponseHeaders{ETag: new(etag(e.Version))}, Body: enrolmentView(e, found)}
}

func enrolmentView(e courses.Enrolment, found finding.List) api.Enrolment {
	return api.Enrolment{ID: e.ID, Version: e.Version, CourseID: e.CourseID, PersonID: e.PersonID,
		PersonName: e.PersonName, State: e.State,
		StateReason: orNull(e.StateReason), CreatedAt: e.CreatedAt.UTC(), UpdatedAt: e.UpdatedAt.UTC(), Findings: findings(found)}
}
