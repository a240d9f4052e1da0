package live

// EventsSQL is what is asked ten times a second.
const EventsSQL = eventsSQL
