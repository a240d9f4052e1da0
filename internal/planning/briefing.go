package planning

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// NewBriefing is what was agreed before a dive, as whoever gave it says.
type NewBriefing struct {
	Key        once.Key
	SessionID  uuid.UUID
	GivenBy    *uuid.UUID // the caller unless said
	BriefedAt  time.Time
	Convention string         // its code
	CheckEvery *units.Reading // how often gas is checked; nil: no interval was agreed
	Pressures  Pressures      // of whoever has no confirmed plan and none of their own
	Dive       NewBriefedDive
	People     []NewBriefed  // empty: everybody of the session who does not sit out
	Words      BriefingWords // "" for the usual words
	Roles      []BriefingRole
	Note       string
	Heard      []NewAcknowledgement // who acknowledged it there and then
}

// NewBriefedDive is the dive that a briefing is about; what is nil was not named.
type NewBriefedDive struct {
	DiveID      *uuid.UUID        // nil: every dive of the session
	Depth       *gasplan.Quantity // of the deepest point
	PlannedTime *gasplan.Quantity // from leaving the surface to the start of the ascent
	Cylinder    *gasplan.CylinderInput
}

// Pressures are what a diver goes by, as far as they are said.
type Pressures = dayview.Pressures

// NewBriefed is one person whom a briefing is for.
type NewBriefed struct {
	PersonID uuid.UUID
	Pressures
	Knows *string // the code of the convention that the person was trained in elsewhere
}

// BriefingWords say what to do.
type BriefingWords struct {
	WhenLow       string `json:"when_low"`
	WhenOut       string `json:"when_out"`
	WhenSeparated string `json:"when_separated"`
}

// usualWords are what is agreed where nothing else is said: common practice, as
// in training organisations' manuals (low on gas; share; look for one minute,
// then up; all seen).
var usualWords = BriefingWords{
	WhenLow:       "At your low-gas pressure signal \"low on gas\". Your buddy closes up, and you ascend together.",
	WhenOut:       "Signal \"out of gas\" and \"share\". Whoever is next gives the alternate regulator; hold on to each other and ascend together.",
	WhenSeparated: "Look for your buddy for one minute, then ascend slowly and meet at the surface.",
}

func (w BriefingWords) orUsual() BriefingWords {
	or := func(s, usual string) string {
		if s == "" {
			return usual
		}
		return s
	}
	return BriefingWords{or(w.WhenLow, usualWords.WhenLow), or(w.WhenOut, usualWords.WhenOut),
		or(w.WhenSeparated, usualWords.WhenSeparated)}
}

// BriefingRole is who does something: lead, last, oxygen or radio.
type BriefingRole struct {
	Role     string     `json:"role"`
	PersonID *uuid.UUID `json:"person_id"`
	Name     string     `json:"name"` // of a person on record, theirs
}

// briefingContent is what a briefing keeps beside its convention.
type briefingContent struct {
	BriefingWords
	Roles     []BriefingRole  `json:"roles"`
	Water     briefedWater    `json:"conditions"`
	Emergency *string         `json:"emergency"`
	Note      string          `json:"note"`
	Every     *dayview.Figure `json:"check_every,omitempty"` // as it was read; absent in briefings from before it was kept
}

// briefedWater is the conditions as reported last.
type briefedWater struct {
	VisibilityValue *float64 `json:"visibility_value"`
	VisibilityUnit  *string  `json:"visibility_unit"`
	CurrentValue    *float64 `json:"current_value"`
	CurrentUnit     *string  `json:"current_unit"`
	WaterValue      *float64 `json:"water_value"`
	WaterUnit       *string  `json:"water_unit"`
}

func waterBriefed(w dayview.Water) (out briefedWater) {
	out.VisibilityValue, out.VisibilityUnit = pg.Columns(w.Visibility)
	out.CurrentValue, out.CurrentUnit = pg.Columns(w.Current)
	out.WaterValue, out.WaterUnit = pg.Columns(w.Temperature)
	return out
}

// GiveBriefing records a briefing. It is a fact: rules answer it with findings.
// created is false when it was recorded before. Faults: id_reused; not_found;
// Malformed for a time ahead or a pressure that no gauge shows;
// unknown_reference for a person or convention that is not on record.
func (s *Service) GiveBriefing(ctx context.Context, by actor.Actor, n NewBriefing) (out Briefing, created bool,
	err error) {
	if err := n.check(); err != nil {
		return out, false, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		b, err := readBriefingScene(ctx, tx, n.SessionID, n.mentioned())
		if err != nil {
			return err
		}
		again, err := journal.Replay(ctx, tx, n.Key.ID, n.Key.Digest)
		if err != nil {
			return err
		}
		if !again {
			if err := s.give(ctx, by, tx, b, n); err != nil {
				return err
			}
		}
		created = !again
		out, err = findBriefing(ctx, tx, n.Key.ID)
		return err
	})
	return out, created, err
}

// longestInterval is the longest interval of gas checks that is taken, in minutes:
// a day, our choice, since no session is longer.
const longestInterval = 24 * 60

// checkPressures finds what the contract's schema cannot.
func (n NewBriefing) check() error {
	if n.CheckEvery != nil && (n.CheckEvery.Minutes() < 1.0/60 || n.CheckEvery.Minutes() > longestInterval) {
		return fault.Invalid("/check_every",
			"An interval is between a second and 24 hours; null says that none was agreed.")
	}
	for i, r := range n.Roles {
		if (r.PersonID == nil) == (r.Name == "") {
			return fault.Invalid(fmt.Sprintf("/roles/%d", i),
				"Say who it is by person_id or by name, one of the two.")
		}
	}
	var seen []uuid.UUID
	for i, p := range n.People {
		if slices.Contains(seen, p.PersonID) {
			return fault.Invalid(fmt.Sprintf("/people/%d/person_id", i), "Each person is named once.")
		}
		seen = append(seen, p.PersonID)
		if err := checkPressures(p.Pressures, fmt.Sprintf("/people/%d", i)); err != nil {
			return err
		}
	}
	return checkPressures(n.Pressures, "/pressures")
}

// mostFigure is the highest pressure that is believed at all: 350 bar, our
// choice, above every rating in the trade, as for gas checks.
var mostFigure = units.Read(350, units.UnitBar)

func checkPressures(p Pressures, pointer string) error {
	for _, x := range []struct {
		name string
		r    *units.Reading
	}{{"start", p.Start}, {"turn", p.Turn}, {"low", p.Low}} {
		if x.r != nil && x.r.Compare(mostFigure) > 0 {
			return fault.Invalid(pointer+"/"+x.name,
				fmt.Sprintf("%s is above %s, which no cylinder holds. Check the unit.", x.r, mostFigure))
		}
	}
	return nil
}

// mentioned returns everybody whom the briefing names.
func (n NewBriefing) mentioned() []uuid.UUID {
	ids := []uuid.UUID{}
	for _, p := range n.People {
		ids = append(ids, p.PersonID)
	}
	for _, r := range n.Roles {
		if r.PersonID != nil {
			ids = append(ids, *r.PersonID)
		}
	}
	return ids
}

// give judges and writes a briefing.
func (s *Service) give(ctx context.Context, by actor.Actor, tx *pg.Tx, b briefingScene, n NewBriefing) error {
	giver, err := b.witness(ctx, by, tx, n.GivenBy, "/given_by")
	if err != nil {
		return err
	}
	if err := journal.CheckTime(tx.Now, n.BriefedAt, "/briefed_at"); err != nil {
		return err
	}
	c, err := agreed(ctx, tx, n.Convention, "/convention")
	if err != nil {
		return err
	}
	if err := b.has(n.Dive.DiveID); err != nil {
		return err
	}
	content, err := b.content(n)
	if err != nil {
		return err
	}
	people, found, err := b.brief(ctx, tx, n, c)
	if err != nil {
		return err
	}
	dive, told, err := s.judgeTold(ctx, tx, b, n, people)
	if err != nil {
		return err
	}
	inCharge := b.people[giver].InCharge
	if !inCharge {
		told = append(told, notInCharge(b.session.ID, people)...)
	}
	w := briefingWrite{id: n.Key.ID, digest: n.Key.Digest, session: b.session.ID, giver: giver, at: n.BriefedAt,
		convention: c,
		every:      seconds(n.CheckEvery), content: content, people: people, inCharge: inCharge, about: n.Dive,
		dive: dive,
		found: slices.Concat(CheckConvention(c), found, told, content.missingRoles(b.session.ID),
			noInterval(b.session.ID, n.CheckEvery))}
	if w.heard, err = heardAtOnce(n.Heard, people, giver); err != nil {
		return err
	}
	return w.write(ctx, by, tx)
}

// agreed reads the convention that a briefing names.
func agreed(ctx context.Context, tx *pg.Tx, code, pointer string) (signal.Convention, error) {
	c, err := findConvention(ctx, tx, code, "")
	if fault.KindOf(err) == fault.NotFound {
		err = fault.UnknownReference("convention", pointer)
	}
	return c.Convention, err
}

func seconds(every *units.Reading) *int {
	if every == nil {
		return nil
	}
	n := int(every.Minutes()*60 + 0.5)
	return &n
}

// content copies what is agreed for everybody, with the names of who does what.
func (b briefingScene) content(n NewBriefing) (briefingContent, error) {
	out := briefingContent{BriefingWords: n.Words.orUsual(), Roles: []BriefingRole{},
		Water: b.session.briefedWater, Emergency: b.session.Emergency, Note: n.Note,
		Every: dayview.FigureOf(n.CheckEvery)}
	for i, r := range n.Roles {
		if r.PersonID != nil {
			p, ok := b.people[*r.PersonID]
			if !ok {
				return out, fault.UnknownReference("person", fmt.Sprintf("/roles/%d/person_id", i))
			}
			r.Name = p.Name
		}
		out.Roles = append(out.Roles, r)
	}
	return out, nil
}

// heardAtOnce returns the acknowledgements that come with a briefing: of whoever
// gave it, and of those who said so there and then.
func heardAtOnce(heard []NewAcknowledgement, people []briefed, giver uuid.UUID) ([]NewAcknowledgement, error) {
	named := func(id uuid.UUID) bool {
		return slices.ContainsFunc(people, func(p briefed) bool { return p.PersonID == id })
	}
	var out []NewAcknowledgement
	if named(giver) {
		out = append(out, NewAcknowledgement{PersonID: giver, How: GaveIt})
	}
	for i, h := range heard {
		switch {
		case !named(h.PersonID):
			return nil, fault.UnknownReference("person whom the briefing is for",
				fmt.Sprintf("/heard/%d/person_id", i))
		case slices.ContainsFunc(out, func(o NewAcknowledgement) bool { return o.PersonID == h.PersonID }):
			continue
		}
		out = append(out, h)
	}
	return out, nil
}

// Briefing is a briefing as it was recorded, with who has acknowledged it.
type Briefing struct {
	ID         uuid.UUID
	SessionID  uuid.UUID
	Session    string // its title
	Site       *string
	TimeZone   string
	GivenBy    uuid.UUID
	GivenName  string
	InCharge   bool         // whether who gave it was in charge of a group when it was recorded
	Dive       *BriefedDive // nil where it names no dive and tells no pressures
	BriefedAt  time.Time
	RecordedAt time.Time
	RecordedBy *uuid.UUID
	VoidedAt   *time.Time
	VoidReason *string
	Convention signal.Convention
	CheckEvery *units.Reading // in seconds; nil: no interval was agreed
	BriefingWords
	Roles       []BriefingRole
	Visibility  *units.Reading
	Current     *units.Reading
	Temperature *units.Reading
	Emergency   *string
	Note        string
	People      []Briefed
	Findings    finding.List
}

// BriefedDive is the dive that a briefing is about, and what its pressures were
// judged by.
type BriefedDive struct {
	DiveID      *uuid.UUID             `json:"-"` // nil: every dive of the session
	Depth       *gasplan.Quantity      `json:"depth"`
	PlannedTime *gasplan.Quantity      `json:"planned_time"`
	Cylinder    *gasplan.CylinderInput `json:"cylinder"`
	Named       []string               `json:"named"` // which of these the briefing named
}

// Briefed is one person whom a briefing is for.
type Briefed struct {
	PersonID      uuid.UUID
	Name          string
	ParticipantID *uuid.UUID
	GaugeUnit     units.Unit
	Newest        bool          // the newest standing briefing for the person
	BriefedAt     *time.Time    // nil when this briefing does not count, or not yet
	Outdated      bool          // a plan confirmed since gives other pressures
	Acknowledged  *Acknowledged // nil when not, or not yet
	Figures       []Figures
	Knows         *signal.Convention
	Differences   []signal.Difference
}

// Acknowledged is how and when somebody made known that they heard.
type Acknowledged struct {
	ID          uuid.UUID
	BriefingID  uuid.UUID // this one, or an earlier one since which nothing was changed for the person
	PersonID    uuid.UUID
	How         AcknowledgedBy
	WitnessedBy uuid.UUID
	RecordedBy  *uuid.UUID // whose token entered it; nil for a program
	WitnessedAt time.Time
}

// Figures are somebody's pressures for one dive, or for all dives of a session.
type Figures struct {
	DiveID     *uuid.UUID
	DiveNumber *int       // within the session
	PlanID     *uuid.UUID // of the confirmed plan that they come from
	Start      *Figure
	Turn       *Figure
	Low        *Figure
}

// Figure is a pressure as it was given, and as it is shown.
type Figure struct {
	Given units.Reading
	Shown *Shown // nil when the hands cannot show it
}
