package dayview

// Statements are all that a query may send, by name.
var Statements = map[string]string{"sessions": sessionsSQL, "groups": groupsSQL,
	"participants": participantsSQL, "centre": centreSQL,
	"people": peopleSQL, "persons": personsSQL, "calls": callsSQL, "reports": reportsSQL,
	"briefings": briefingsSQL, "plans": plansSQL, "sharing": sharingSQL,
	"open plans": openPlansSQL, "aged": agedSQL, "log": logSQL, "taught": taughtSQL}
