-- Takes away the feeds; what their events name stays where it is.
DROP TRIGGER participant_live ON participant;
DROP TRIGGER clearance_live ON clearance;
DROP TRIGGER session_live ON session;
DROP TRIGGER sign_off_void_live ON sign_off_void;
DROP TRIGGER sign_off_live ON sign_off;
DROP TRIGGER entry_void_live ON entry_void;
DROP TRIGGER entry_live ON entry;
DROP FUNCTION live_participant, live_clearance, live_session, live_sign_off_void, live_sign_off,
    live_entry_void, live_entry, live_tell_all, live_tell;
DROP TABLE live_event, live_head;
