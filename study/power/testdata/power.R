# Chances that the tests of study/power are held to. R 4.2.2, stats only: pt with ncp, integrate, pbinom.
options(digits = 12)
out <- function(...) cat(paste(...), "\n")
# one sample: power.t.test, both sides counted
for (n in c(2, 3, 5, 16)) for (d in c(0.5, 1, 2))
  out("one", n, d, power.t.test(n, delta = d, sd = 1, type = "one.sample", strict = TRUE)$power)
# Welch, exact (the statistic given the share B of the first sum of squares is a noncentral t; B is beta distributed)
welch <- function(n1, s1, n2, s2, d, level = 0.95) {
  a <- n1 - 1; b <- n2 - 1; V <- s1^2 / n1 + s2^2 / n2
  f <- function(B) sapply(B, function(B) {
    x <- s1^2 / n1 * B / a; y <- s2^2 / n2 * (1 - B) / b
    df <- (x + y)^2 / (x^2 / a + y^2 / b)
    k <- qt(1 - (1 - level) / 2, df) * sqrt((a + b) * (x + y) / V)
    dbeta(B, a / 2, b / 2) * (pt(k, a + b, d / sqrt(V), lower.tail = FALSE) + pt(-k, a + b, d / sqrt(V))) })
  integrate(f, 0, 1, rel.tol = 1e-10, subdivisions = 2000)$value }
for (x in list(c(4, 1, 4, 1), c(6, 1, 6, 0.1), c(3, 0.1, 8, 1), c(15, 0.05, 15, 0.2)))
  for (k in c(0, 1, 3)) { d <- k * sqrt(x[2]^2 / x[1] + x[4]^2 / x[3]); out("welch", x[1], x[2], x[3], x[4], d, welch(x[1], x[2], x[3], x[4], d)) }
# equivalence of one mean (n - 1 degrees of freedom): the integral over the sample deviation
tost <- function(n, s, d, m) { se <- s / sqrt(n); nu <- n - 1; t <- qt(0.95, nu)
  f <- function(q) { h <- m - t * se * sqrt(q / nu); dchisq(q, nu) * ifelse(h > 0, pnorm((h - d) / se) - pnorm((-h - d) / se), 0) }
  integrate(f, 0, nu * (m / (t * se))^2, rel.tol = 1e-10, subdivisions = 2000)$value }
for (n in c(4, 10, 30)) for (d in c(0, 0.2)) out("tost", n, d, 0.6, tost(n, 0.5, d, 0.6))
# acceptance: true losses by three laws, errors of one coupon (own) and of all (shared)
accept <- function(n, c, limit, own, shared, pbelow) { u <- sqrt(own^2 + shared^2); g <- qnorm(0.95) * u
  below <- function(l) integrate(function(e) pbelow(l - e) * dnorm(e, 0, own), -8 * own, 8 * own, rel.tol = 1e-10, subdivisions = 5000)$value
  one <- function(e) c(pbinom(c, n, 1 - below(limit - g - e)), 1 - pbinom(c, n, 1 - below(limit + g - e)))
  both <- function(i) integrate(function(z) sapply(z, function(z) one(shared * z)[i]) * dnorm(z), -8, 8, rel.tol = 1e-8, subdivisions = 500)$value
  c(both(1), both(2)) }
laws <- list(normal = function(x) pnorm(x, 0.2, 0.06), exponential = function(x) pexp(x, 1 / 0.1),
  lognormal = function(x) plnorm(x, log(0.15) - log(1 + (0.1 / 0.15)^2) / 2, sqrt(log(1 + (0.1 / 0.15)^2))))
for (l in names(laws)) for (x in list(c(10, 0, 0.4, 0.03, 0.01), c(20, 2, 0.3, 0.02, 0.02))) {
  r <- accept(x[1], x[2], x[3], x[4], x[5], laws[[l]])
  out("accept", l, paste(x, collapse = " "), r[1], r[2]) }
out("version", R.version.string)
