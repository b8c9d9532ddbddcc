# Exact limits of a ratio of two normal quantities, by Fieller's theorem: the ratios rho at which
# |a - rho b| is 1.959964 of its standard uncertainties, found by root search and not by the closed form.
# Prints for each case the limits of 1 + a/b. R 4.2.2: Rscript fieller.R
limits <- function(a, ua, b, ub, cov) {
  z <- qnorm(0.975)
  f <- function(rho) (a - rho * b)^2 - z^2 * (ua^2 - 2 * rho * cov + rho^2 * ub^2)
  q <- a / b
  c(1 + uniroot(f, c(q - 5, q), tol = 1e-14)$root, 1 + uniroot(f, c(q, q + 5), tol = 1e-14)$root)
}
cases <- rbind(
  c(-0.40, 0.0458257569495584, 2.80, 0.03, -6.5e-4), # the worked example of changes_test.go
  c(-0.10, 0.05, 1.00, 0.10, 0),                     # initial gain of 10 of its uncertainties
  c(-0.10, 0.05, 1.00, 0.20, 0),                     # of 5
  c(-0.10, 0.05, 1.00, 0.33, 0),                     # of 3
  c(-0.80, 0.05, 1.00, 0.10, -0.0025)                # of 10, most of the gain lost
)
for (i in seq_len(nrow(cases))) {
  x <- cases[i, ]
  cat(sprintf("{%g, %.10g, %g, %g, %g, %.9f, %.9f},\n", x[1], x[2], x[3], x[4], x[5],
    limits(x[1], x[2], x[3], x[4], x[5])[1], limits(x[1], x[2], x[3], x[4], x[5])[2]))
}
