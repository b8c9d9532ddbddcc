// Package shape says how a quantity changes over the dose or the days: how fast, along which shape, and when it reaches
// a limit.
//
// [Groups] puts the exposed coupons of a [series.Data] together, and [Group.Path] makes the path of a group: the mean
// change since the baseline at each pull, with the covariance of its errors. [Path.Fit] fits a [Shape] to a path,
// [Path.FitAll] all of them in the order of their criterion. [Path.Ranks] is the slope that no covariance enters
// ([TheilSen]), and [Path.Bent] tests whether the path is straight.
// [Group.Lives] says between which pulls each coupon reached a limit, and [LifetimeOf] how long coupons last.
//
// # Changes, not levels
//
// Paths are of changes, y_k = Y_k - Y_0, with the covariance by the law of series, in which all changes of a coupon
// share the error of their baseline. For a quantity that is not corrected, generalised least squares of y = b·x is then
// the same as that of the levels Y = a + b·x with a free intercept: the differences from the baseline are all the
// contrasts in which a does not stand. The baseline is a value with an error in both. For a corrected quantity only the
// changes are corrected. Where errors are not known they are taken to be independent and alike, σ² of each level, and σ
// is estimated: the covariance of the changes is σ²(I + 11ᵀ), and the slope that of ordinary least squares with an
// intercept.
//
// # What an interval is made of
//
// Of a single coupon, an interval is by the law: it is of the path of this coupon. Where the fit lies farther from the
// path than the law explains (chi-square above its 95 % quantile), the uncertainty is multiplied by the root of
// chi-square over its degrees of freedom, and the interval is by Student's t with these ([FlagScatter]).
//
// Of several coupons, an interval is of what other coupons of the same origin would show. A parameter depends on the
// path of each coupon by known weights, to first order. With z_i what it becomes by the path of coupon i alone, s² the
// variance of the z_i, σ² the part of s² that their errors explain, and u_e the uncertainty by the errors alone,
//
//	u² = s²/n + max(0, u_e² - σ²/n)
//
// with n - 1 degrees of freedom for s², and those of what few controls say, by Welch and Satterthwaite. The lot is the
// unit where there are three or more. The interval is then value ± t·u, of the logarithm where a parameter is positive
// by nature, and at least as long as that by the profile of the least squares, which has no end where the path gives
// none. That of a coupon is by the profile.
//
// Where the law does not know what sessions are off, as of what other instruments measured without a correction, an
// uncertainty is at least that by the scatter of the path about the shape, and none where there is one pull. Where these
// sessions look like ageing ([Path.Confound]) there is none at all.
//
// # Which shape
//
//	AICc = χ² + 2p + 2p(p+1)/(k-p-1)
//
// with k pulls after the baseline and p parameters; where errors are not known, k·log(χ²/k) takes the place of χ², and
// p counts the scale too. A shape with k < p + 2 has none: so few pulls cannot tell it from others. Sources, from
// memory: N. Sugiura, Communications in Statistics A 7 (1978) 13; C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297.
package shape
