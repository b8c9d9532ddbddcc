// Package mixed fits linear mixed models by restricted maximum likelihood (REML):
//
//	y = X β + Σ_t Z_t u_t + e
//
// y are the observations of coupons, say, X β the mean of each coating at a dose, u_t what each coupon, lot or session is
// off, and e what each observation is off by itself. The u of different groups are independent, with a covariance that the
// groups of a term have in common and that is estimated; or, for a [Term] that is known, of unit variance, such as errors of
// owners whose sensitivities are the columns. The variance of e is that of [Model.Known] of the observation, plus one that
// is estimated and the same for all, or for all of one kind of [Model.Residuals].
//
// Describe the data in a [Model] and call [Model.Fit]. The [Fit] has the coefficients β with their covariance, the
// variances, and for any sum of coefficients, by [Fit.Contrast], its standard error and the degrees of freedom of t.
//
// # How
//
// With S the diagonal covariance of e and W = Z Λ, Λ the Cholesky factors of the covariances of the terms, the covariance
// of y is V = S + W Wᵀ. All that is asked follows from one Cholesky factor of the equations of mixed models,
//
//	[ WᵀS⁻¹W + I   WᵀS⁻¹X   WᵀS⁻¹y ]
//	[ XᵀS⁻¹W       XᵀS⁻¹X   XᵀS⁻¹y ]
//	[ yᵀS⁻¹W       yᵀS⁻¹X   yᵀS⁻¹y ]
//
// which are large and nearly empty: the groups of the first term, the leaves, have no element in common. They are
// eliminated one by one; what they leave on all else, the crown, is dense and small. So the first term should be the one of
// the most groups, such as the coupon; terms inside its groups, such as the spot, are eliminated with them. The deviance is
//
//	(n-p) log 2π + log|V| + log|XᵀV⁻¹X| + yᵀP y,  P = V⁻¹ - V⁻¹X (XᵀV⁻¹X)⁻¹ XᵀV⁻¹
//
// and its derivatives are exact. Variances may be 0. Descent takes the second derivatives that are expected while it is
// far, and then the average of both kinds, which is cheap; neither bends the wrong way. The second derivatives themselves
// are made at the end. Degrees of freedom are Satterthwaite's, by these. No digit depends on the number of processors.
//
// One evaluation costs about as many operations as there are leaves times the square of what one of them touches, and the
// third power of the number of columns of the crown, which should stay below a thousand.
//
// Sources: D. Bates, M. Mächler, B. Bolker, S. Walker, Journal of Statistical Software 67 (2015) 1; F. E. Satterthwaite,
// Biometrics Bulletin 2 (1946) 110; A. Kuznetsova, P. B. Brockhoff, R. H. B. Christensen, Journal of Statistical
// Software 82 (2017) 13; A. R. Gilmour, R. Thompson, B. R. Cullis, Biometrics 51 (1995) 1440; all from memory. The tests
// hold criteria, variances and degrees of freedom to those of lme4 and lmerTest, in R, on published data.
package mixed
