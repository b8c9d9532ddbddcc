# Reference values for influence_test.go and bootstrap_test.go, made with R 4.2.2
# (package stats): Rscript influence.R     (in this folder)
#
# stackloss (K. A. Brownlee, Statistical Theory and Methodology in Science and
# Engineering, 2nd ed. (1965), 491-500; datasets of R) is written to stackloss.csv.
options(digits = 12, width = 120)
d <- stackloss
names(d) <- c("air", "water", "acid", "loss")
file <- "stackloss.csv"
cat("# stackloss of R 4.2.2 (datasets): oxidation of ammonia, 21 days. K. A. Brownlee, Statistical Theory\n",
    "# and Methodology in Science and Engineering, 2nd ed. (1965), 491-500; written by influence.R\n", file = file, sep = "")
suppressWarnings(write.table(d, file, append = TRUE, sep = ",", quote = FALSE, row.names = FALSE))

show <- function(m, rows, what) {
  t <- cbind(hat = hatvalues(m), rstudent = rstudent(m), cook = cooks.distance(m), dfbeta(m))
  file <- paste0("influence_", what, ".csv")
  cat("# stackloss, ", what, ": hatvalues, rstudent, cooks.distance and dfbeta of R 4.2.2 by influence.R\n", file = file, sep = "")
  suppressWarnings(write.table(format(t[rows, ], digits = 15, trim = TRUE), file, append = TRUE, sep = ",", quote = FALSE, row.names = FALSE))
}

m <- lm(loss ~ air + water + acid, d)
show(m, 1:21, "plain")

# Knowledge of the coefficients as three more rows of the design: intercept
# -30 +- 5, water 1 +- 0.2, acid 0 +- 0.1, for data of unit uncertainty.
X <- rbind(model.matrix(m), c(1 / 5, 0, 0, 0), c(0, 0, 1 / 0.2, 0), c(0, 0, 0, 1 / 0.1))
y <- c(d$loss, -30 / 5, 1 / 0.2, 0)
k <- lm.fit(X, y)
show(lm(y ~ X - 1), 1:21, "priors")

# Covariance of the residual bootstrap, exactly: errors e centred and inflated by
# n/(n-p), in independent runs of length L from a random place of the circle.
boot <- function(m, L) {
  X <- model.matrix(m); n <- nrow(X)
  e <- resid(m); e <- (e - mean(e)) * sqrt(n / df.residual(m))
  auto <- sapply(0:(L - 1), function(k) mean(e * e[(seq_len(n) - 1 + k) %% n + 1]))
  S <- matrix(0, n, n)
  for (i in 1:n) for (j in 1:n)
    if ((i - 1) %/% L == (j - 1) %/% L) S[i, j] <- auto[abs(i - j) + 1]
  A <- solve(crossprod(X), t(X))
  A %*% S %*% t(A)
}
cat("stackloss, upper triangle by columns: bootstrap covariance, blocks of 1\n")
cat(format(boot(m, 1)[upper.tri(diag(4), TRUE)], digits = 12), sep = ", "); cat("\n")

# lh: luteinizing hormone, P. J. Diggle, Time Series (1990), table A.1; datasets of R
cat("lh\n"); cat(lh, sep = ", "); cat("\n")
mean_only <- lm(as.numeric(lh) ~ 1)
for (L in c(1, 6)) cat("variance of the mean, blocks of", L, format(boot(mean_only, L)[1, 1], digits = 12), "\n")
