package desk

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/bench"
	"wane/study/store"
)

// CouponChoice says for which coupons labels or pages are wanted.
type CouponChoice struct {
	Exposure string   // with what accompanies it; empty: all
	Coupons  []string // nil: all of them
}

// of returns the coupons that are chosen.
func (c *CouponChoice) of(roster *study.Roster) ([]study.Coupon, error) {
	all := roster.Coupons
	if c.Exposure != "" {
		if err := checkExposure(roster, c.Exposure); err != nil {
			return nil, err
		}
		all = bench.CouponsWith(roster, c.Exposure)
	}
	if len(c.Coupons) > 0 {
		var some []study.Coupon
		for _, code := range c.Coupons {
			i := slices.IndexFunc(all, func(k study.Coupon) bool { return k.Coupon == code })
			if i < 0 {
				return nil, unknownCoupon(code, all, c.Exposure)
			}
			some = append(some, all[i])
		}
		all = some
	}
	if len(all) == 0 {
		return nil, &study.Refusal{Fault: "there is no coupon to print for", Try: "enrol coupons first: wane enrol coupons.csv"}
	}
	return all, nil
}

func unknownCoupon(code string, all []study.Coupon, exposure string) error {
	var codes []string
	for _, c := range all {
		codes = append(codes, c.Coupon)
	}
	fault := fmt.Sprintf("there is no coupon %q", code)
	if exposure != "" {
		fault = fmt.Sprintf("no coupon %q goes with exposure %s", code, exposure)
	}
	return &study.Refusal{Fault: fault, Try: study.DidYouMean(code, codes, "check the code, which is case-sensitive")}
}

// Labels returns the labels of coupons, in the order of their codes, or as they are named.
func (d *Desk) Labels(ctx context.Context, choice CouponChoice) ([]bench.Label, error) {
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	coupons, err := choice.of(roster)
	if err != nil {
		return nil, err
	}
	labels := make([]bench.Label, len(coupons))
	for i := range coupons {
		labels[i] = bench.Label{Code: coupons[i].Coupon, Coupon: &coupons[i], Study: d.store.Name()}
	}
	return labels, nil
}

// Racks returns the pages that hang beside exposed coupons.
func (d *Desk) Racks(ctx context.Context, choice CouponChoice) (pages []bench.Rack, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		coupons, err := choice.of(roster)
		if err != nil {
			return err
		}
		texts, err := v.Protocols()
		if err != nil {
			return err
		}
		for _, c := range coupons {
			if c.Role != study.Exposed && c.Role != study.BlankExposed {
				continue
			}
			page, err := d.rack(v, c, roster, texts)
			if err != nil {
				return err
			}
			pages = append(pages, page)
		}
		return nil
	})
	if err == nil && len(pages) == 0 {
		err = &study.Refusal{Fault: "none of these coupons is exposed, so that none hangs on a rack",
			Try: "name exposed ones, or print labels: --labels"}
	}
	return pages, err
}

// rack is the page of one coupon.
func (d *Desk) rack(v *store.View, c study.Coupon, roster *study.Roster, texts []study.Protocol) (
	page bench.Rack, err error) {
	page = bench.Rack{Coupon: c, Study: d.store.Name()}
	for _, e := range roster.Exposures {
		if e.Exposure == c.Exposure {
			page.Of = e
		}
	}
	for _, p := range roster.Pulls {
		if p.Exposure == c.Exposure {
			page.Pulls = append(page.Pulls, p)
		}
	}
	for _, o := range bench.CouponsWith(roster, c.Exposure) {
		if o.Role == study.Control && o.Coating == c.Coating || o.Role == study.Blank && o.Glass == c.Glass {
			page.Companion = append(page.Companion, o.Coupon)
		}
	}
	page.Followed = page.Of.KeptProtocol
	if page.Protocol, err = keptProtocol(texts, page.Followed); err != nil {
		return page, err
	}
	err = v.ReadingsOf(c.Coupon, func(k store.Kept[study.Reading]) error {
		page.Spots = append(page.Spots, k.Row.Spot)
		if o := k.Row.OrientationDeg; o.Valid() {
			page.Turned = append(page.Turned, strconv.FormatFloat(float64(o), 'f', -1, 64))
		}
		return nil
	})
	for _, texts := range []*[]string{&page.Spots, &page.Turned} {
		slices.SortFunc(*texts, strings.Compare)
		*texts = slices.Compact(*texts)
	}
	return page, err
}
