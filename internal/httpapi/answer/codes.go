package answer

import "tankside/internal/fault"

// code is one way for a request to fail, as its page explains it.
type code struct {
	Kind  fault.Kind
	Title string
	Text  string // what it means
	Cure  string // what to do
}

// codes lists every code that a problem can have. A test holds each fault that
// the program makes against it.
var codes = map[string]code{
	// -- the contract --
	"invalid_request": {fault.Malformed, "The request breaks the contract",
		"The body, a parameter or a header does not have the form that the contract gives for this operation.",
		"Each finding says where (pointer) and what was expected. Correct it and send the request again. Nothing was changed."},
	"bad_cursor": {fault.Malformed, "The cursor does not fit",
		"A cursor continues one list, with the filters and the order with which the list was begun.",
		"Read the list again from its beginning, without cursor."},
	"position_gone": {fault.Gone, "The position is from another database",
		"The updated_token comes from before the database was restored from a backup, recovered to an earlier moment or moved to another server. What changed since cannot be told from it.",
		"Read the list again, without updated_since, and go on with the updated_token of that reading."},
	"no_such_address": {fault.NotFound, "There is nothing at this address",
		"No operation of the contract has this path.",
		"Compare the address with the contract at /openapi.yaml."},
	"method_not_allowed": {fault.NotFound, "The method is not taken here",
		"The address exists and does not take this method.",
		"The Allow header lists the methods that it takes."},
	"too_large": {fault.TooLarge, "The body is too large",
		"The body is larger than this operation takes.",
		"Send it in several smaller requests. Nothing was changed."},
	"unsupported_media_type": {fault.Unsupported, "The media type is not taken here",
		"The Content-Type of the body is not one that this operation takes.",
		"The detail lists those it takes; edits are application/merge-patch+json."},

	// -- who is calling --
	"unauthenticated": {fault.Unauthenticated, "No valid token",
		"The request carries no token, or one that is unknown, has expired or was revoked. Which of these it is, is not said.",
		"Send Authorization: Bearer with a valid token. A manager of your centre issues tokens."},
	"missing_scope": {fault.Forbidden, "The token lacks a scope",
		"Each operation names the scope that it needs, and this token does not carry it.",
		"Ask a manager for a token with the scope that the detail names."},
	"missing_role": {fault.Forbidden, "Not for this role",
		"The caller's roles do not reach this: the operation is for other roles, or what it is asked about is another person's.",
		"Ask a person whom the detail names."},

	// -- state and versions --
	"not_found": {fault.NotFound, "Not found",
		"There is no such thing in the caller's centre. What belongs to another centre is not found either.",
		"Check the id. If it was just created, check that its creation was answered."},
	"id_reused": {fault.Conflict, "The id is taken",
		"The id was used before in a request with another body.",
		"To repeat a request, send it unchanged. For a new thing, choose a new id."},
	"wrong_state": {fault.Conflict, "Its state does not allow this",
		"What the request asks is possible only in certain states of the thing.",
		"The detail says which state it is in and what would help."},
	"stale_version": {fault.Stale, "It has changed",
		"It was changed since the version that If-Match names. Nothing of this request was done.",
		"Read it again and repeat the change on what is there now. The ETag of the answer is the present version."},
	"version_required": {fault.VersionMissing, "Say which version",
		"An edit names in If-Match the version that it was made on, so that nobody overwrites what they have not seen.",
		"Send the ETag of the thing, its version in quotes, in If-Match."},

	// -- the rules --
	"rules_refused": {fault.Refused, "The rules refuse this",
		"A rule of the centre's rule books, of the syllabus or of the service forbids it. Nothing was written.",
		"Each finding says which limit, what was found and what would cure it. Local law, the training organisation and the instructor in charge come first."},
	"cautions_open": {fault.Refused, "A caution is not yet accepted",
		"The rules allow it only when a person accepts each caution, under their name and with a reason.",
		"Consider each caution. To go ahead, repeat the request with accept; a program cannot."},
	"unknown_reference": {fault.Refused, "An id names nothing",
		"An id in the body names nothing in the caller's centre.",
		"The finding's pointer says which one. Correct it and send the request again."},

	// -- the service --
	"starting": {fault.Unavailable, "The service is starting",
		"This instance waits for its database, or moves its schema to the release that it is.",
		"Send the same request again after as many seconds as Retry-After says: nothing of it was done."},
	"schema_unfit": {fault.Unavailable, "The database does not fit yet",
		"The schema of the database is older than this release of the service needs, or a migration was broken off.",
		"Send the same request again after as many seconds as Retry-After says. Where it lasts, the operator of the service migrates the database."},
	"too_many_requests": {fault.TooMany, "Too many requests",
		"A token, and an address, is served so many requests in a minute, and more came. RateLimit-Policy names the limit, RateLimit what is left of it. Requests without a valid token count for more.",
		"Wait as long as Retry-After says, then send the same request again: nothing of it was done."},
	"too_many_streams": {fault.TooMany, "Too many streams",
		"A token, and a centre, may have so many streams open on an instance of the service, and has them.",
		"Close one, or watch several sessions in one stream; then ask again. A stream whose reader is gone ends within half a minute: wait as long as Retry-After says."},
	"too_many_tickets": {fault.TooMany, "Too many tickets",
		"A token, and a centre, may have so many tickets that are not over, and has them.",
		"Each is over after a minute: wait as long as Retry-After says, then ask again."},
	"too_many_tokens": {fault.TooMany, "Too many tokens",
		"A person or program, and a centre, may have so many good tokens, and has them.",
		"Revoke those that are not used any more, then ask again."},
	"too_many_waiting": {fault.TooMany, "Too much waits already",
		"So many entries from the water may wait of one token, and of one centre; with those of the batch there would be more. Nothing of the batch was taken, and nothing of it is lost: the device has it.",
		"Cure what the waiting entries wait for, or drop those that nobody needs (GET /v1/held-entries lists them); then send the batch again."},
	"unavailable": {fault.Unavailable, "Not now",
		"The service cannot serve the request at this moment. Nothing was written.",
		"Wait as long as Retry-After says, then send the same request again: nothing is done twice."},
	"database_unavailable": {fault.Unavailable, "The database does not answer",
		"The service runs and cannot reach its database, or the database is overloaded.",
		"Wait as long as Retry-After says, then send the same request again: nothing is done twice."},
	"internal": {fault.Internal, "Something went wrong on our side",
		"This is a defect, or the machine failed. The request did not succeed.",
		"Send it again. If it fails again, tell the operator of the service the Request-Id."},

	// -- centre and tokens --
	"not_a_demo": {fault.Conflict, "Only a demo centre has a clock to set",
		"The clock of a real centre is the real one.",
		"Use a demo centre; its operator makes one with the demo command."},

	// -- people --
	"bad_list": {fault.Malformed, "The list cannot be taken in",
		"A list is taken in whole or not at all, and this one has faults.",
		"Each finding says where, by line and column, and what was expected. Correct the list and send it again. Nothing was changed."},

	// -- courses --
	"already_completed": {fault.Conflict, "Completed at the same moment",
		"It was completed while the request was judged, by another request.",
		"Read the enrolment again."},
	"already_in_charge": {fault.Conflict, "The group has an instructor in charge",
		"A group has one instructor in charge.",
		"Replace the instructor in one operation, or add the person as a second instructor."},
	"already_participant": {fault.Conflict, "Takes part already",
		"A person has one part in a session.",
		"Change that part, or move it to another group."},
	"student_not_diving": {fault.Conflict, "A student who does not dive sits out",
		"Crew may be there without diving; a student who does not dive takes part as sitting out.",
		"Take the mark away first, or let the student sit out."},
	"already_signed_off": {fault.Conflict, "Signed off at the same moment",
		"It was signed off while the request was judged, by another request.",
		"Read the progress again."},
	"double_booked": {fault.Refused, "A person would be in two places",
		"The plan changed while this was judged, and a person would be on two sessions at once.",
		"Read the day again and choose another time or person."},
	"group_over_ratio": {fault.Refused, "The group would be too large",
		"The group changed while this was judged, and would have more students than its crew may take.",
		"Read the group again, and move a student or add an assistant."},
	"already_credited": {fault.Conflict, "Credited already",
		"A credit for the same skill, theory part or training dive stands on this enrolment.",
		"Leave it, or void it with a reason and accept another."},
	"already_enrolled": {fault.Conflict, "Enrolled already",
		"The person is on the course already: waiting, active or completed.",
		"Use the enrolment that there is, or withdraw it first."},

	// -- batches from the water --
	"dropped": {fault.Conflict, "The entry was dropped",
		"The entry was held, and a person dropped it with a reason. It is kept, and is judged no more.",
		"The detail says why. If it is right after all, send it again under a new id."},
	"not_judged": {fault.Refused, "Not judged yet",
		"The entry is kept, and the service did not come to judge it.",
		"Send the batch again, or judge the held entry again."},

	// -- sites --
	"site_in_use": {fault.Conflict, "The site is in use",
		"A session is or was held at this site, so it stays.",
		"Leave it. If its figures are wrong, change them."},

	// -- conventions --
	"code_taken": {fault.Conflict, "The code is taken",
		"Another convention of hand signals has this code, a ready one or one of your centre's.",
		"Choose another code, or change the convention that has it."},
}

func titleOf(code string) string { return codes[code].Title }
