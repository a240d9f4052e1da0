package httpapi

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/access"
	"tankside/internal/people"
)

// included are the people whom include=person adds; nil when nobody asked.
type included map[uuid.UUID]api.Person

// includePeople reads the people that a list is to carry, all in one query: those
// whom the caller may see.
func includePeople(ctx context.Context, service *people.Service, include *[]string,
	ids []uuid.UUID) (included, error) {
	if !slices.Contains(given(include, nil), "person") {
		return nil, nil
	}
	out := included{}
	if !callerOf(ctx).May(access.PeopleRead) {
		return out, nil
	}
	list, err := service.PeopleNamed(ctx, callerOf(ctx), ids)
	if err != nil {
		return nil, err
	}
	for _, p := range list {
		out[p.ID] = plainPerson(p)
	}
	return out, nil
}

// of returns the person, or what is withheld instead; neither when nobody asked.
func (i included) of(id uuid.UUID) (person *api.Person, withheld *[]string) {
	if i == nil {
		return nil, nil
	}
	if p, ok := i[id]; ok {
		return &p, nil
	}
	return nil, &[]string{"person"}
}
