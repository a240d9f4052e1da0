package httpapi

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/url"
	"strings"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// gestureHandlers serves gestures, which need no service.
type gestureHandlers struct{}

// ListGestures implements GET /v1/gestures.
func (h gestureHandlers) ListGestures(context.Context,
	api.ListGesturesRequestObject) (api.ListGesturesResponseObject, error) {
	return api.ListGestures200JSONResponse{Body: api.GestureList{
		Sheet: drawn("/v1/gesture-sheet", nil),
		Items: each(signal.Sights(), gestureView),
	}}, nil
}

func gestureView(s signal.Sight) api.Gesture {
	return api.Gesture{
		Code:    string(s.Gesture),
		Title:   s.Title,
		Text:    s.Text,
		Hands:   int(s.Hands),
		Source:  s.Source,
		Picture: drawn("/v1/gestures/"+string(s.Gesture), nil),
	}
}

// GetGesture implements GET /v1/gestures/{code}.
func (h gestureHandlers) GetGesture(_ context.Context,
	r api.GetGestureRequestObject) (api.GetGestureResponseObject, error) {
	g := signal.Gesture(r.Code)
	if !g.Known() {
		return nil, fault.New(fault.NotFound, "not_found",
			fmt.Sprintf("There is no gesture %q; GET /v1/gestures lists them.", r.Code)).
			Param("what", "gesture").Param("id", r.Code)
	}
	return api.GetGesture200ImageSvgXMLResponse{PictureImageSvgXMLResponse: picture(g.Picture(),
		r.Params.Drawing)}, nil
}

// GetGestureSheet implements GET /v1/gesture-sheet.
func (h gestureHandlers) GetGestureSheet(_ context.Context,
	r api.GetGestureSheetRequestObject) (api.GetGestureSheetResponseObject, error) {
	return api.GetGestureSheet200ImageSvgXMLResponse{PictureImageSvgXMLResponse: picture(signal.ContactSheet(),
		r.Params.Drawing)}, nil
}

// GetGestureStrip implements GET /v1/gesture-strips.
func (h gestureHandlers) GetGestureStrip(_ context.Context,
	r api.GetGestureStripRequestObject) (api.GetGestureStripResponseObject, error) {
	c := signal.Convention{Style: signal.Style(r.Params.Style), Hands: signal.Hands(r.Params.Hands),
		Unit: units.Unit(r.Params.Unit),
		Ten:  signal.Gesture(given(r.Params.Ten, ""))}
	reading := units.Read(r.Params.Value, c.Unit)
	seq, found := c.Encode(reading)
	if found.Forbids() {
		return nil, fault.RefusedBy(found)
	}
	svg := c.Strip(seq, c.Down(reading).String())
	return api.GetGestureStrip200ImageSvgXMLResponse{PictureImageSvgXMLResponse: picture(svg,
		r.Params.Drawing)}, nil
}

// stripOf returns the address of the strip for a reading, as a convention shows it.
func stripOf(c signal.Convention, r units.Reading) string {
	q := url.Values{"style": {string(c.Style)}, "hands": {fmt.Sprint(int(c.Hands))}, "unit": {string(r.Unit)},
		"value": {r.Value.String()}}
	if c.Ten != "" {
		q.Set("ten", string(c.Ten))
	}
	return drawn("/v1/gesture-strips", q)
}

// drawn returns the address of a picture in the present edition.
func drawn(path string, q url.Values) string {
	if q == nil {
		q = url.Values{}
	}
	q.Set("drawing", signal.Edition())
	return path + "?" + q.Encode()
}

// How long a picture may be kept: for good under the address that names its
// edition (RFC 8246), else for an hour, our choice, so that a corrected drawing
// gets around.
const (
	forGood  = "public, max-age=31536000, immutable"
	anHour   = "public, max-age=3600"
	tagBytes = 6 // of the hash that names a picture's content
)

func picture(svg string, drawing *string) api.PictureImageSvgXMLResponse {
	keep := anHour
	if given(drawing, "") == signal.Edition() {
		keep = forGood
	}
	sum := sha256.Sum256([]byte(svg))
	return api.PictureImageSvgXMLResponse{
		Headers: api.PictureResponseHeaders{CacheControl: keep, ETag: `"` +
			hex.EncodeToString(sum[:tagBytes]) + `"`},
		Body:          strings.NewReader(svg),
		ContentLength: int64(len(svg)),
	}
}
