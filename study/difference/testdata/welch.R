# R 4.2.2, mvtnorm 1.1.3. The data are made up: changes of three coatings, six, five and four coupons.
suppressMessages(library(mvtnorm))
g <- list(alpha = c(-0.31, -0.42, -0.18, -0.55, -0.29, -0.40), beta = c(-0.36, -0.33, -0.35, -0.38, -0.31),
          gamma = c(-0.71, -0.95, -0.62, -1.20))
for (k in list(c(1, 2), c(1, 3), c(2, 3))) {
  w <- t.test(g[[k[1]]], g[[k[2]]])
  cat(names(g)[k], "difference", format(-diff(w$estimate), digits = 10), "t", format(w$statistic, digits = 10), "df",
      format(w$parameter, digits = 10), "p", format(w$p.value, digits = 10), "interval", format(w$conf.int, digits = 10), "\n")
  all <- unlist(g[k]); n <- length(g[[k[1]]])
  d <- apply(combn(length(all), n), 2, function(i) abs(mean(all[i]) - mean(all[-i])))
  o <- abs(mean(all[1:n]) - mean(all[-(1:n)]))
  cat("  permutation p", mean(d >= o - 1e-12), "of", length(d), "\n")
  l <- t.test(g[[k[1]]], g[[k[2]]], mu = -0.3, alternative = "greater")$p.value
  u <- t.test(g[[k[1]]], g[[k[2]]], mu = 0.3, alternative = "less")$p.value
  cat("  equivalence within 0.3: p", format(max(l, u), digits = 10), "\n")
}
# equal spreads and sizes: Welch's df is 2 (n - 1), and the largest |t| of all pairs is a studentised range
e <- c(-0.25, -0.15, -0.05, 0.05, 0.15, 0.25)
h <- list(e - 1, e - 1.3, e - 1.42)
for (k in list(c(1, 2), c(1, 3), c(2, 3))) {
  w <- t.test(h[[k[1]]], h[[k[2]]])
  cat("equal", k, "t", w$statistic, "df", w$parameter, "adjusted p", ptukey(abs(w$statistic) * sqrt(2), 3, 10, lower.tail = FALSE), "\n")
}
cat("factor", qtukey(0.95, 3, 10) / sqrt(2), "\n")
set.seed(1)
R <- matrix(c(1, 0.5, 0.5, 1), 2)
for (t in c(2.771281, 3.879794)) cat("against the first: adjusted p of", t, 1 - pmvt(c(-t, -t), c(t, t), df = 10, corr = R, algorithm = GenzBretz(maxpts = 1e5, abseps = 1e-6)), "\n")
cat("factor", qmvt(0.95, tail = "both", df = 10, corr = R)$quantile, "\n")
cat("power of a true difference of least size, equal groups:", power.t.test(n = 6, delta = (2.228139 + 0.879058) * sd(e) / sqrt(3), sd = sd(e))$power, "\n")
