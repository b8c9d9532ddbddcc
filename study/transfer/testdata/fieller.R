# Intervals of a ratio of two rates, for the tests of this package. R 4.2.2.
#
# usage: Rscript fieller.R > fieller.txt
#
# The interval by Fieller's theorem holds all ratios q for which a - q b is not distinguished from 0 by t. uniroot finds its ends,
# and no quadratic is solved. The degrees of freedom are Satterthwaite's of a - q b at q = a/b.
interval <- function(a, ua, na, b, ub, nb, r, level = 0.95) {
  v <- function(q) ua^2 - 2 * q * r * ua * ub + q^2 * ub^2
  q <- a / b
  nu <- v(q)^2 / (ua^4 / na + q^4 * ub^4 / nb)
  t <- qt(1 - (1 - level) / 2, nu)
  f <- function(q) abs(a - q * b) - t * sqrt(v(q))
  lo <- uniroot(f, c(q - 50 * abs(q), q), tol = 1e-13)$root
  hi <- uniroot(f, c(q, q + 50 * abs(q)), tol = 1e-13)$root
  cat(sprintf("%g %g %g %g %g %g %g: ratio %.9f dof %.9f from %.9f to %.9f\n", a, ua, na, b, ub, nb, r, q, nu, lo, hi))
}
interval(-2.0, 0.15, 5, -0.1, 0.008, 7, 0)
interval(-2.0, 0.15, 5, -0.1, 0.008, 7, 0.4)
interval(-0.3, 0.2, 4, -0.5, 0.09, 9, -0.2)
interval(0.8, 0.1, Inf, 0.4, 0.02, Inf, 0)
