# Figures for the tests of this package, by R 4.2.2 with mvtnorm 1.1-3. Rscript outside.R > outside.txt
library(mvtnorm)
options(digits = 10)

cat("tolerance factors (ISO 16269-6: noncentral t), n, share, confidence, k\n")
for (n in c(2, 5, 6, 10, 20, 50)) for (pc in list(c(.95, .95), c(.8, .9), c(.5, .95)))
  cat(n, pc[1], pc[2], qt(pc[2], n - 1, ncp = qnorm(pc[1]) * sqrt(n)) / sqrt(n), "\n")

cat("shared errors: n, share, correlation, P[all pass] by integrate\n")
for (n in c(6, 15)) for (q in c(.8, .9)) for (rho in c(.25, .5, .9)) {
  p <- integrate(function(z) dnorm(z) * (q + (1 - q) * pnorm((-qnorm(.95) - sqrt(rho) * z) / sqrt(1 - rho)))^n,
                 -Inf, Inf, rel.tol = 1e-12)$value
  cat(n, q, rho, p, "\n")
}
cat("the same with one failure allowed\n")
for (rho in c(.25, .5)) {
  p <- integrate(function(z) dnorm(z) * sapply(z, function(zz)
    pbinom(1, 15, 1 - (.8 + .2 * pnorm((-qnorm(.95) - sqrt(rho) * zz) / sqrt(1 - rho))))), -Inf, Inf, rel.tol = 1e-12)$value
  cat(15, .8, rho, p, "\n")
}
cat("two sessions of three coupons, two effects: n = 6, share .8, the sum over all sets of bad coupons by pmvnorm\n")
A <- rbind(c(.7, .2), c(.7, .2), c(.7, .2), c(0, .8), c(0, .8), c(0, .8))
R <- A %*% t(A); diag(R) <- 1
set.seed(1); total <- 0
for (s in 0:63) {
  bad <- which(bitwAnd(s, 2^(0:5)) > 0); k <- length(bad)
  p <- if (k == 0) 1 else if (k == 1) .05 else
    pmvnorm(upper = rep(-qnorm(.95), k), corr = R[bad, bad], algorithm = GenzBretz(maxpts = 1e6, abseps = 1e-7))[1]
  total <- total + .8^(6 - k) * .2^k * p
}
cat(total, "\n")

cat("global risks of JCGM 106, clause 9.5, by pmvnorm: mean, sd, u, limit, consumer, producer\n")
for (c in list(c(.3, .1, .05, .5), c(.45, .1, .02, .5), c(.6, .2, .1, .5))) {
  m <- c[1]; s <- c[2]; u <- c[3]; L <- c[4]
  v <- matrix(c(s^2, s^2, s^2, s^2 + u^2), 2) # the true loss and the read one
  a <- L - qnorm(.95) * u
  consumer <- pmvnorm(lower = c(L, -Inf), upper = c(Inf, a), mean = c(m, m), sigma = v, algorithm = Miwa(steps = 4000))[1]
  producer <- pmvnorm(lower = c(-Inf, a), upper = c(L, Inf), mean = c(m, m), sigma = v, algorithm = Miwa(steps = 4000))[1]
  cat(m, s, u, L, consumer, producer, "\n")
}
cat("share beyond a limit, n = 3: closed form asin; n = 10, quality 1.5 by pbeta\n")
cat(pbeta(max(0, .5 - .5 * 1.0 * sqrt(3) / 2), .5, .5), pbeta(.5 - .5 * 1.5 * sqrt(10) / 9, 4, 4), "\n")
