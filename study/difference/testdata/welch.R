# R 4.2.2. The data are made up: changes of three coatings, six, five and four coupons.
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
# equal spreads and sizes: Welch's df is 2 (n - 1). The chance that the least p of all pairs, or of those with the first
# group, is as small, where each group has its own variance, by a million draws
e <- c(-0.25, -0.15, -0.05, 0.05, 0.15, 0.25)
h <- list(e - 1, e - 1.3, e - 1.42)
set.seed(1)
N <- 1e6; n <- 6
m <- matrix(rnorm(3 * N) / sqrt(n), N); s <- matrix(rchisq(3 * N, n - 1) / (n - 1) / n, N)
t <- function(a, b) abs(m[, a] - m[, b]) / sqrt(s[, a] + s[, b])
all <- cbind(t(1, 2), t(1, 3), t(2, 3))
tall <- apply(all, 1, max); tone <- pmax(all[, 1], all[, 2])
for (k in list(c(1, 2), c(1, 3), c(2, 3))) {
  w <- t.test(h[[k[1]]], h[[k[2]]])
  cat("equal", k, "t", w$statistic, "df", w$parameter, "adjusted p", mean(tall >= abs(w$statistic)), "against the first",
      mean(tone >= abs(w$statistic)), "\n")
}
cat("factors", quantile(tall, 0.95), quantile(tone, 0.95), "\n")
cat("power of a true difference of least size, two equal groups:", power.t.test(n = 6, delta = (2.228139 + 0.879058) * sd(e) / sqrt(3), sd = sd(e))$power, "\n")
