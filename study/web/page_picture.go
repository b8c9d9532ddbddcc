package web

import (
	"net/http"
	"slices"
	"strings"

	"wane/study/desk"
)

// photo is a picture of a coupon that a measurement has.
type photo struct{ Address, About string }

// photosOf are the pictures of a coupon, each once, in the order of its measurements.
func photosOf(code string, h *desk.History) (photos []photo) {
	for i := range h.Measured {
		m := &h.Measured[i]
		one := photo{couponAt(code) + "/pictures/" + m.Picture, m.Quantity + ", " + m.Date + ", " + m.Method}
		if m.Picture != "" && !slices.ContainsFunc(photos, func(p photo) bool { return p.Address == one.Address }) {
			photos = append(photos, one)
		}
	}
	return photos
}

// shownPictures are the kinds of pictures that browsers show. Others are kept as files, whatever they say they are.
var shownPictures = []string{"image/png", "image/jpeg", "image/gif", "image/webp"}

// picture is a picture of a measurement, as it was taken in.
func (s *Server) picture(q *request) (answer, error) {
	found, err := s.desk.Picture(q.Context(), q.PathValue("coupon"), q.PathValue("sum"))
	if err != nil {
		return nil, absent(err)
	}
	kind := http.DetectContentType(found.Data)
	if !slices.Contains(shownPictures, kind) {
		return &file{Name: found.Name, Type: "application/octet-stream", Data: found.Data, Keep: true}, nil
	}
	return &file{Name: found.Name, Type: strings.TrimSpace(kind), Data: found.Data, Policy: figurePolicy}, nil
}
