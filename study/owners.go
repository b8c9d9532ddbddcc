package study

import (
	"fmt"
	"slices"
	"strings"
)

// Owners names whom the effects of a fit belong to.
type Owners struct{ Session, Coupon, Batch, Coating, Spot, Instrument string }

// OwnersOf returns a function that returns the owners of the effects of a fit. The batch and the coating are empty if
// the roster does not know the coupon.
//
// Readings of several sessions have a session of their own; those that name none share one session at each pull. A
// session that names no instrument has an instrument of its own.
func (r *Roster) OwnersOf() func(f *Fit) Owners {
	coupons, instruments := map[string]*Coupon{}, map[string]string{}
	for i := range r.Coupons {
		coupons[r.Coupons[i].Coupon] = &r.Coupons[i]
	}
	for i := range r.Sessions {
		instruments[r.Sessions[i].Session] = r.Sessions[i].Instrument
	}
	return func(f *Fit) Owners { return ownersOf(f, coupons[f.Coupon], instruments[f.Session]) }
}

// ownersOf returns the owners of the effects of a fit of a coupon on an instrument, as far as these are known.
func ownersOf(f *Fit, c *Coupon, instrument string) Owners {
	o := Owners{Session: f.Session, Coupon: f.Coupon, Spot: f.Coupon + "/" + f.Spot, Instrument: instrument}
	if c != nil {
		o.Batch, o.Coating = c.GlassBatch(), c.Coating
	}
	if len(f.Sessions) > 0 {
		names := slices.Sorted(slices.Values(f.Sessions))
		o.Session, o.Instrument = strings.Join(slices.Compact(names), " + "), ""
	}
	if o.Session == "" {
		o.Session = UnnamedSession(f.Pull)
	}
	if o.Instrument == "" {
		o.Instrument = "session " + o.Session
	}
	return o
}

// UnnamedSession returns the name of the session of readings at a pull that name none.
func UnnamedSession(pull int) string { return fmt.Sprintf("pull %d", pull) }

// GlassBatch returns the name of the batch of the coupon's glass: where nobody states it, the glass and the supplier.
func (c *Coupon) GlassBatch() string {
	if c.Batch != "" {
		return c.Glass + ", batch " + c.Batch
	}
	return strings.TrimSpace(c.Glass + " " + c.Supplier)
}

// BatchOf returns what is enrolled of the batch of a coupon's glass; nil: nothing.
func (r *Roster) BatchOf(c *Coupon) *GlassBatch {
	for i := range r.Batches {
		if b := &r.Batches[i]; c.Batch != "" && b.Batch == c.Batch && b.Glass == c.Glass {
			return b
		}
	}
	return nil
}

// ReturnOf returns the return spectrum that is enrolled of the far face of a coupon; nil: none.
func (r *Roster) ReturnOf(c *Coupon) *ReturnSpectrum {
	for i := range r.Returns {
		if s := &r.Returns[i]; c.ReturnSpectrum != "" && s.Name == c.ReturnSpectrum {
			return s
		}
	}
	return nil
}

// of returns the name of an owner; empty for owners that are no part of the study.
func (o *Owners) of(owner Owner) string {
	switch owner {
	case OwnerSession:
		return o.Session
	case OwnerCoupon:
		return o.Coupon
	case OwnerBatch:
		return o.Batch
	case OwnerCoating:
		return o.Coating
	case OwnerSpot:
		return o.Spot
	case OwnerInstrument:
		return o.Instrument
	}
	return ""
}

// NameOwners says whom the effects belong to of which nobody has said it.
func (e *Errors) NameOwners(o *Owners) {
	for i := range e.Shared {
		if s := &e.Shared[i]; s.Of == "" {
			s.Of = o.of(s.Owner)
		}
	}
}
