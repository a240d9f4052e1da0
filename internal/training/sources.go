package training

import "tankside/internal/ledger"

// The witnessed rows that sign-offs and completions rest on: who saw it, when,
// and what was seen. A void is no part of them, since it comes later.
var (
	attemptEvidence = witnessed("drill_attempt",
		`d.enrolment_id, d.participant_id, d.dive_id, d.skill, d.role, d.measures, d.claimed, d.met,
		encode(sha256(convert_to(COALESCE(d.reason, ''), 'UTF8')), 'hex') AS reason FROM drill_attempt d`)
	// How the gas was reported, and whether it was simulated, join the verdict, so that checks from before it was
	// noted, on which decisions rest already, are the same evidence as ever.
	checkEvidence = witnessed("gas_check",
		`d.participant_id, d.dive_id, d.depth_value, d.depth_unit, d.reading_value, d.reading_unit,
		d.read_after_signal, d.signalled_value, d.signalled_unit, d.answered, concat_ws(' ', d.verdict, d.signalled_with,
		CASE WHEN d.simulated THEN 'simulated' END) AS verdict FROM gas_check d`)
	theoryEvidence = witnessed("theory_result",
		`d.enrolment_id, d.part, d.percent, d.pass_mark FROM theory_result d`)
	startEvidence = witnessed("dive_start",
		`d.participant_id, d.dive_id, d.team, d.size_value, d.size_unit, d.rating_value, d.rating_unit,
		d.oxygen_percent, d.start_value, d.start_unit FROM dive_start d`)
	endEvidence = witnessed("dive_end",
		`d.dive_start_id, d.depth_value, d.depth_unit, d.end_value, d.end_unit FROM dive_end d`)
)

// witnessed returns the source of evidence that stands in columns of a table d of
// this package, whose rows are entries of the journal.
func witnessed(kind, columnsFrom string) ledger.Witnessed {
	return ledger.Witnessed{Type: kind,
		SQL: `SELECT d.id AS ref, e.session_id, e.witnessed_by, e.witnessed_at, e.recorded_by, e.recorded_at, e.token_id, e.findings, ` + columnsFrom +
			` JOIN journal_entry e ON e.centre_id = d.centre_id AND e.id = d.id WHERE d.centre_id = @centre`}
}

// Ledger is where the decided rows of this package are, and what they rest on.
var Ledger = ledger.Sources{
	Decided: []ledger.Decided{
		{Kind: ledger.SignOff, SQL: `SELECT id AS ref, enrolment_id AS subject, recorded_at AS at, CASE WHEN from_water OR signed_at <> recorded_at THEN signed_at END AS signed_at,
			NULLIF(from_water, false) AS from_water, NULLIF(evidence_named, true) AS evidence_named, witnessed_on, skill, round, session_id, signed_by,
			evidence AS attempts, rests_on, findings FROM sign_off WHERE centre_id = @centre`},
		{Kind: ledger.SignOffVoid,
			SQL: `SELECT v.sign_off_id AS ref, o.enrolment_id AS subject, v.voided_at AS at, v.reason, v.voided_by
			FROM sign_off_void v JOIN sign_off o ON o.centre_id = v.centre_id AND o.id = v.sign_off_id WHERE v.centre_id = @centre`},
		{Kind: ledger.Credit, SQL: `SELECT id AS ref, enrolment_id AS subject, accepted_at AS at, what, code, training_dive, minutes, done_on, accepted_by,
			done_at_centre || E'\n' || done_by || E'\n' || document AS document FROM credit WHERE centre_id = @centre`},
		{Kind: ledger.CreditVoid,
			SQL: `SELECT v.credit_id AS ref, c.enrolment_id AS subject, v.voided_at AS at, v.reason, v.voided_by
			FROM credit_void v JOIN credit c ON c.centre_id = v.centre_id AND c.id = v.credit_id WHERE v.centre_id = @centre`},
		{Kind: ledger.Completion,
			SQL: `SELECT id AS ref, enrolment_id AS subject, signed_at AS at, round, signed_by, rests_on, findings FROM completion WHERE centre_id = @centre`},
		{Kind: ledger.CompletionVoid,
			SQL: `SELECT v.completion_id AS ref, c.enrolment_id AS subject, v.voided_at AS at, v.reason, v.voided_by
			FROM completion_void v JOIN completion c ON c.centre_id = v.centre_id AND c.id = v.completion_id WHERE v.centre_id = @centre`},
	},
	Witnessed: []ledger.Witnessed{attemptEvidence, checkEvidence, theoryEvidence, startEvidence, endEvidence},
}
