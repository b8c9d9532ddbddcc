# Fits the made-up study of fit/mixed/testdata/unequal_variances_example.csv with a variance of the levels and one of the
# rates of the coupons for each coating, and the session crossed. Debian's R 4.2.2, lme4 1.1.31, lmerTest 3.1.3:
#
#   Rscript levels_by_coating.R > levels_by_coating.txt
suppressMessages({library(lme4); library(lmerTest)}); options(digits = 10)
d <- read.csv("../../../fit/mixed/testdata/unequal_variances_example.csv")
d$coat <- factor(d$coat)
for (k in 1:3) { d[[paste0("c", k)]] <- 1 * (d$coat == k); d[[paste0("t", k)]] <- d$t * (d$coat == k) }
m <- suppressMessages(suppressWarnings(lmer(y ~ coat * t + (0 + c1 | coupon) + (0 + c2 | coupon) + (0 + c3 | coupon) +
  (0 + t1 | coupon) + (0 + t2 | coupon) + (0 + t3 | coupon) + (1 | sess), d,
  control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e6)))))
cat("REML criterion", format(REMLcrit(m), digits = 12), "\n"); print(as.data.frame(VarCorr(m))[, c(1, 2, 4)])
print(suppressMessages(contest(m, rbind(c(0, 0, 0, 0, 1, 0), c(0, 0, 0, 0, 0, 1), c(0, 0, 0, 0, -1, 1)), joint = FALSE)))
