package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/courses"
)

// siteHandlers serves sites.
type siteHandlers struct {
	courses *courses.Service
}

// CreateSite implements POST /v1/sites.
func (h siteHandlers) CreateSite(ctx context.Context,
	r api.CreateSiteRequestObject) (api.CreateSiteResponseObject, error) {
	site, created, err := h.courses.CreateSite(ctx, callerOf(ctx), creation(ctx, r.Body.ID), courses.SiteFields{
		Name:      r.Body.Name,
		Kind:      r.Body.Kind,
		Water:     r.Body.Water,
		MaxDepth:  reading(r.Body.MaxDepth),
		Altitude:  reading(given(r.Body.Altitude, api.Quantity{Unit: "m"})),
		TimeZone:  optional(r.Body.TimeZone),
		Emergency: r.Body.Emergency,
	})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateSite200JSONResponse{SiteJSONResponse: siteAnswer(site)}, nil
	}
	return api.CreateSite201JSONResponse{
		Headers: api.CreateSite201ResponseHeaders{ETag: etag(site.Version), Location: "/v1/sites/" +
			site.ID.String()},
		Body: siteView(site),
	}, nil
}

// ListSites implements GET /v1/sites.
func (h siteHandlers) ListSites(ctx context.Context,
	r api.ListSitesRequestObject) (api.ListSitesResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, descending(r.Params.Sort))
	if err != nil {
		return nil, err
	}
	sites, after, err := h.courses.Sites(ctx, callerOf(ctx), given(r.Params.Kind, nil), p)
	if err != nil {
		return nil, err
	}
	cursor, link := next(ctx, after)
	return api.ListSites200JSONResponse{
		Headers: api.ListSites200ResponseHeaders{Link: link},
		Body:    api.SiteList{Items: each(sites, siteView), NextCursor: orNull(cursor)},
	}, nil
}

// GetSite implements GET /v1/sites/{id}.
func (h siteHandlers) GetSite(ctx context.Context,
	r api.GetSiteRequestObject) (api.GetSiteResponseObject, error) {
	site, err := h.courses.Site(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetSite200JSONResponse{SiteJSONResponse: siteAnswer(site)}, nil
}

// ChangeSite implements PATCH /v1/sites/{id}.
func (h siteHandlers) ChangeSite(ctx context.Context,
	r api.ChangeSiteRequestObject) (api.ChangeSiteResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	site, err := h.courses.ChangeSite(ctx, callerOf(ctx), r.ID, version, func(f *courses.SiteFields) {
		patch(&f.Name, r.Body.Name)
		patch(&f.Kind, r.Body.Kind)
		patch(&f.Water, r.Body.Water)
		patch(&f.MaxDepth, optionalReading(r.Body.MaxDepth))
		patch(&f.Altitude, optionalReading(r.Body.Altitude))
		patchNull(&f.TimeZone, r.Body.TimeZone)
		patch(&f.Emergency, r.Body.Emergency)
	})
	if err != nil {
		return nil, err
	}
	return api.ChangeSite200JSONResponse{SiteJSONResponse: siteAnswer(site)}, nil
}

// DeleteSite implements DELETE /v1/sites/{id}.
func (h siteHandlers) DeleteSite(ctx context.Context,
	r api.DeleteSiteRequestObject) (api.DeleteSiteResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	if err := h.courses.DeleteSite(ctx, callerOf(ctx), r.ID, version); err != nil {
		return nil, err
	}
	return api.DeleteSite204Response{}, nil
}

func siteAnswer(s courses.Site) api.SiteJSONResponse {
	return api.SiteJSONResponse{Headers: api.SiteResponseHeaders{ETag: etag(s.Version)}, Body: siteView(s)}
}

func siteView(s courses.Site) api.Site {
	return api.Site{
		ID:        s.ID,
		Version:   s.Version,
		Name:      s.Name,
		Kind:      s.Kind,
		Water:     s.Water,
		MaxDepth:  quantity(s.MaxDepth),
		Altitude:  quantity(s.Altitude),
		TimeZone:  orNull(s.TimeZone),
		Emergency: s.Emergency,
		CreatedAt: s.CreatedAt.UTC(),
		UpdatedAt: s.UpdatedAt.UTC(),
	}
}
