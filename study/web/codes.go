package web

import "wane/study/desk"

// shownCodes are the codes that forms offer.
type shownCodes struct{ *desk.Codes }

// mostOffered is how many codes a form offers: of more a person writes the code.
const mostOffered = 500

// codes reads the codes that forms offer.
func (s *Server) codes(q *request) (*shownCodes, error) {
	c, err := s.desk.Codes(q.Context())
	if err != nil {
		return nil, err
	}
	c.Coupons = c.Coupons[:min(len(c.Coupons), mostOffered)]
	c.Sessions = c.Sessions[:min(len(c.Sessions), mostOffered)]
	return &shownCodes{c}, nil
}
