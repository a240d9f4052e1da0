package assessment

import (
	"tankside/internal/ledger"
	"tankside/internal/waterview"
)

// Ledger is where the decided rows of this package are, and what they rest on.
var Ledger = ledger.Sources{
	Decided: []ledger.Decided{
		{Kind: ledger.SignOff, SQL: `
			SELECT id AS ref, enrolment_id AS subject, recorded_at AS at,
				CASE WHEN from_water OR signed_at <> recorded_at THEN signed_at END AS signed_at,
				NULLIF(from_water, false) AS from_water, NULLIF(evidence_named, true) AS evidence_named,
				witnessed_on, skill, round, session_id, signed_by, evidence AS attempts, rests_on, findings
			FROM sign_off
			WHERE centre_id = @centre`},
		{Kind: ledger.SignOffVoid, SQL: `
			SELECT v.sign_off_id AS ref, o.enrolment_id AS subject, v.voided_at AS at, v.reason, v.voided_by
			FROM sign_off_void v
			JOIN sign_off o ON o.centre_id = v.centre_id AND o.id = v.sign_off_id
			WHERE v.centre_id = @centre`},
		{Kind: ledger.Credit, SQL: `
			SELECT id AS ref, enrolment_id AS subject, accepted_at AS at, what, code, training_dive, minutes,
				done_on, accepted_by, done_at_centre || E'\n' || done_by || E'\n' || document AS document
			FROM credit
			WHERE centre_id = @centre`},
		{Kind: ledger.CreditVoid, SQL: `
			SELECT v.credit_id AS ref, o.enrolment_id AS subject, v.voided_at AS at, v.reason, v.voided_by
			FROM credit_void v
			JOIN credit o ON o.centre_id = v.centre_id AND o.id = v.credit_id
			WHERE v.centre_id = @centre`},
		{Kind: ledger.Completion, SQL: `
			SELECT id AS ref, enrolment_id AS subject, signed_at AS at, round, signed_by, rests_on, findings
			FROM completion
			WHERE centre_id = @centre`},
		{Kind: ledger.CompletionVoid, SQL: `
			SELECT v.completion_id AS ref, o.enrolment_id AS subject, v.voided_at AS at, v.reason, v.voided_by
			FROM completion_void v
			JOIN completion o ON o.centre_id = v.centre_id AND o.id = v.completion_id
			WHERE v.centre_id = @centre`},
	},
	Witnessed: []ledger.Witnessed{theoryEvidence},
}

// theoryEvidence is the source of theory results as evidence.
var theoryEvidence = waterview.EvidenceOf("theory_result", `
	d.enrolment_id, d.part, d.percent, d.pass_mark FROM theory_result d`)
