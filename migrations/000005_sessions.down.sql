-- Takes away sessions, groups, participants and outings with all that is in them.
DROP VIEW sessions_group, sessions_participant, sessions_dive, sessions_session;
DROP TABLE clearance, participant, session_group, dive, session, outing_guest, outing;
DROP FUNCTION group_recount();
