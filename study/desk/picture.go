package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"

	"wane/study"
	"wane/study/store"
)

// Picture returns the picture of a measurement of a coupon, by its SHA-256 in hexadecimal, byte for byte as it was taken
// in. What is no such picture, such as an export, is refused.
func (d *Desk) Picture(ctx context.Context, coupon, sum string) (found *study.Export, err error) {
	none := &study.Refusal{Fault: "coupon " + study.Shown(coupon) + " has no such picture",
		Try: "look at its measurements: wane results " + study.Shown(coupon)}
	bytes, err := hex.DecodeString(sum)
	if err != nil || len(bytes) != sha256.Size {
		return nil, none
	}
	err = d.view(ctx, 0, func(v *store.View) error {
		its := false
		if err := v.MeasurementsOf(coupon, func(m store.Kept[study.Measurement]) error {
			its = its || m.Row.Picture == sum
			return nil
		}); err != nil {
			return err
		}
		if !its {
			return none
		}
		found, err = v.Original([sha256.Size]byte(bytes))
		return err
	})
	return found, err
}
