package app_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// callers are columns that hold who is calling: recognised by a token, and
// nobody takes a person or a token away.
var callers = []string{"recorded_by", "voided_by", "marked_by", "lifted_by", "issued_by", "made_by",
	"signed_by", "accepted_by", "token_id", "dropped_by", "planned_by", "confirmed_by", "withdrawn_by", "updated_by", "corrected_by"}

// whoever are references that hold who is calling under another name.
var whoever = []string{"decision_centre_id_person_id_fkey", "water_batch_centre_id_person_id_fkey",
	"participant_centre_id_not_diving_by_fkey"}

// checked says of each other reference where it is found to be there before it
// is written. Nothing takes the referred rows away meanwhile: most of their tables
// grant no DELETE, and participants, groups and dives go only under the lock of
// their session.
var checked = func() map[string]string {
	out := map[string]string{}
	for why, names := range map[string]string{
		"the address names it, and it is read, mostly locked, before": `
			acknowledgement_centre_id_briefing_id_person_id_fkey
			briefing_centre_id_session_id_fkey
			completion_centre_id_enrolment_id_fkey
			completion_void_centre_id_completion_id_fkey
			credit_centre_id_enrolment_id_fkey
			credit_void_centre_id_credit_id_fkey
			time_in_centre_id_dive_id_fkey
			enrolment_centre_id_course_id_fkey
			entry_centre_id_outing_id_fkey
			entry_centre_id_session_id_fkey
			gas_plan_centre_id_replaces_fkey
			gas_plan_centre_id_session_id_fkey
			gas_plan_confirmed_centre_id_plan_id_fkey
			gas_plan_confirmed_centre_id_session_id_fkey
			gas_plan_withdrawn_centre_id_plan_id_fkey
			gas_plan_withdrawn_centre_id_session_id_fkey
			entry_void_centre_id_entry_id_fkey
			outing_guest_centre_id_outing_id_fkey
			paper_centre_id_person_id_fkey
			paper_void_centre_id_paper_id_fkey
			participant_centre_id_session_id_during_fkey
			person_correction_centre_id_person_id_fkey
			person_role_centre_id_person_id_fkey
			session_centre_id_course_id_fkey
			session_group_centre_id_session_id_fkey
			sign_off_centre_id_session_id_fkey
			sign_off_void_centre_id_sign_off_id_fkey
			syllabus_version_centre_id_syllabus_id_fkey
			theory_result_centre_id_enrolment_id_fkey
			unfit_lift_centre_id_mark_id_fkey
			unfit_mark_centre_id_person_id_fkey`,
		"the body names it, and it is looked for before: unknown is 422 with a pointer": `
			briefing_person_centre_id_person_id_fkey
			course_centre_id_syllabus_id_syllabus_number_fkey
			time_out_centre_id_time_in_id_fkey
			enrolment_centre_id_person_id_fkey
			entry_centre_id_witnessed_by_fkey
			head_count_name_centre_id_guest_id_fkey
			head_count_name_centre_id_person_id_fkey
			incident_person_centre_id_person_id_fkey
			participant_centre_id_enrolment_id_fkey
			paper_centre_id_seen_by_fkey
			participant_centre_id_person_id_fkey
			roll_call_centre_id_enrolment_id_fkey
			session_centre_id_outing_id_fkey
			sign_off_centre_id_enrolment_id_fkey
			token_centre_id_person_id_fkey`,
		"found among the participants, groups or dives of the locked session": `
			time_in_centre_id_participant_id_fkey
			drill_attempt_centre_id_dive_id_fkey
			drill_attempt_centre_id_enrolment_id_fkey
			drill_attempt_centre_id_participant_id_fkey
			entry_centre_id_enrolment_id_fkey
			entry_centre_id_participant_id_fkey
			gas_check_centre_id_dive_id_fkey
			gas_check_centre_id_participant_id_fkey
			gas_response_centre_id_dive_id_fkey
			gas_response_centre_id_participant_id_fkey
			log_completion_centre_id_dive_id_fkey
			participant_centre_id_session_id_group_id_fkey
			roll_call_centre_id_group_id_fkey
			roll_call_centre_id_participant_id_fkey`,
		"written by the same call": `
			briefing_person_centre_id_briefing_id_fkey
			dive_centre_id_session_id_fkey
			head_count_name_centre_id_head_count_id_fkey
			incident_person_centre_id_incident_id_fkey
			entry_clock_centre_id_entry_id_fkey
			gas_plan_person_centre_id_plan_id_fkey
			live_head_centre_id_session_id_fkey
			ledger_entry_centre_id_subject_type_subject_id_fkey
			water_entry_centre_id_batch_id_fkey
			water_wait_centre_id_water_id_fkey`,
		"the group is locked and judged by whoever writes": `
			clearance_centre_id_group_id_fkey`,
	} {
		for _, name := range strings.Fields(names) {
			out[name] = why
		}
	}
	return out
}()

// An id in a body that names nothing is answered with a pointer to it, never as
// a defect of ours: so every reference of the schema is explained, or found to
// be there before it is written. What the API answers, internal/httpapi tests.
func TestEveryReferenceIsExplainedOrFoundBefore(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	app.NewServices(db.DB)
	explained := db.MappedConstraints()
	type reference struct {
		Name    string
		Columns []string
	}
	var all []reference
	require.NoError(t, db.InTx(t.Context(), uuid.New(), func(ctx context.Context, tx *pg.Tx) (err error) {
		all, err = pg.Rows[reference](ctx, tx, `SELECT k.conname::text AS name,
				ARRAY(SELECT a.attname::text FROM pg_attribute a WHERE a.attrelid = k.conrelid AND a.attnum = ANY (k.conkey) AND a.attname <> 'centre_id') AS columns
			FROM pg_constraint k WHERE k.contype = 'f' AND k.connamespace = 'public'::regnamespace ORDER BY k.conname`, pgx.StrictNamedArgs{})
		return err
	}))
	require.NotEmpty(t, all)
	var open []string
	names := map[string]bool{}
	for _, r := range all {
		names[r.Name] = true
		switch {
		case slices.Contains(explained, r.Name), checked[r.Name] != "", slices.Contains(whoever, r.Name):
		case len(r.Columns) == 0, slices.Equal(r.Columns, []string{"id", "kind"}), // the centre; the entry, written by the same call
			len(r.Columns) == 1 && slices.Contains(callers, r.Columns[0]):
		default:
			open = append(open, r.Name+" ("+strings.Join(r.Columns, ", ")+")")
		}
	}
	require.Empty(t, open, "explain it (db.Explain), or say in checked where it is found before")
	for name := range checked {
		require.True(t, names[name], "%s is no reference of the schema", name)
	}
}
