# Reference values for reml_test.go, made with R 4.2.2, lme4 1.1-31, metafor 3.8-1:
#   Rscript reml.R     (in this folder; writes reml_balanced.csv, reml_unequal.csv and reml_expected.csv)
#
# balanced: 12 mounts, 6 coordinates (4 factors, a tilt, a zero), each read 5 times with an error of one size. lme4 fits
# y ~ coordinate + (random effects with a variance for each of the three kinds | mount). With C = sigma^2/5, sigma as
# lme4 finds it, the means over the readings pose the same problem to fit.REML.
#
# unequal: 9 mounts with correlated errors, different for each, and no replicates: rma.mv of metafor with V known, its
# REML and its profile-likelihood intervals.
suppressMessages({library(lme4); library(metafor)})
options(digits = 15)
set.seed(20310512)
kind <- c("factor", "factor", "factor", "factor", "tilt", "zero")
out <- function(case, name, value) cat(sprintf("%s,%s,%.12g\n", case, name, value), file = "reml_expected.csv", append = TRUE)
cat("case,name,value\n", file = "reml_expected.csv")

u <- c(factor = 2, tilt = 3, zero = 1.5)
M <- 12; n <- 5
d <- expand.grid(reading = 1:n, coordinate = 1:6, mount = 1:M)
d$kind <- factor(kind[d$coordinate]); d$coordinate <- factor(d$coordinate)
d$effect <- interaction(d$mount, d$coordinate, drop = TRUE)
beta <- rnorm(M * 6, 0, u[kind[rep(1:6, M)]])
d$y <- round(c(10, 11, 9, 10, -3, 0.5)[d$coordinate] + rep(beta, each = n) + rnorm(nrow(d), 0, 2.5), 4)
write.csv(d[, c("mount", "coordinate", "reading", "y")], "reml_balanced.csv", row.names = FALSE, quote = FALSE)
for (k in levels(d$kind)) d[[k]] <- as.numeric(d$kind == k)
fit <- lmer(y ~ 0 + coordinate + (0 + factor | effect) + (0 + tilt | effect) + (0 + zero | effect), d,
            control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e5), calc.derivs = FALSE,
                                  check.conv.singular = "ignore"))
v <- as.data.frame(VarCorr(fit))
for (k in names(u)) out("balanced", k, v$sdcor[match(k, v$var1)])
out("balanced", "sigma", sigma(fit))
for (i in 1:6) out("balanced", paste0("mean", i), fixef(fit)[[i]])
for (i in 1:6) out("balanced", paste0("se", i), sqrt(vcov(fit)[i, i]))

M <- 9
mount <- rep(1:M, each = 6); coordinate <- rep(1:6, M)
V <- matrix(0, 6 * M, 6 * M); e <- numeric(6 * M)
for (m in 1:M) {
  A <- matrix(rnorm(36), 6) * runif(1, 0.2, 0.9)
  block <- round(A %*% t(A) + diag(0.05, 6), 5)
  i <- (m - 1) * 6 + 1:6
  V[i, i] <- block
  e[i] <- t(chol(block)) %*% rnorm(6)
}
y <- round(5 + rnorm(6 * M, 0, u[kind[coordinate]]) + e, 4)
rows <- t(sapply(1:M, function(m) c(y[(m - 1) * 6 + 1:6], V[(m - 1) * 6 + 1:6, (m - 1) * 6 + 1:6])))
write.table(rows, "reml_unequal.csv", sep = ",", row.names = FALSE, quote = FALSE,
            col.names = c(paste0("y", 1:6), paste0("c", rep(1:6, each = 6), rep(1:6, 6))))
d <- data.frame(y, coordinate = factor(coordinate), kind = factor(kind[coordinate]), effect = seq_along(y))
fit <- rma.mv(y, V, mods = ~ 0 + coordinate, random = ~ kind | effect, struct = "DIAG", data = d, method = "REML",
              control = list(optimizer = "optim", optmethod = "BFGS", reltol = 1e-14, maxit = 1000))
for (k in 1:3) {
  out("unequal", levels(d$kind)[k], sqrt(fit$tau2[k]))
  ci <- confint(fit, tau2 = k, control = list(tol = 1e-12))$random
  out("unequal", paste0(levels(d$kind)[k], "_lower"), ci[2, "ci.lb"])
  out("unequal", paste0(levels(d$kind)[k], "_upper"), ci[2, "ci.ub"])
}
for (i in 1:6) out("unequal", paste0("mean", i), fit$beta[i])
for (i in 1:6) out("unequal", paste0("se", i), fit$se[i])
