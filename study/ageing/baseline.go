package ageing

import "wane/study"

// Baseline returns the fit that the row of a fit is compared with, of all fits of its coupon: see [Changes]. It is nil
// where there is none, and f itself at the baseline.
func (b *Changes) Baseline(f *study.Fit, fits []*study.Fit) *study.Fit { return b.baselineOf(f, fits) }
