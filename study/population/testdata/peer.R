# Fits with lme4 the study that TestAgainstLme4AtSize made up and wrote: a variance of the levels and one of the rates of
# the coupons for each coating, one of the rates of the lots for each coating, and the session crossed.
#
#   Rscript peer.R STUDY.csv
#
# prints the REML criterion, the seconds of processor and the slope of each coating with its standard error.
suppressMessages(library(lme4)); options(digits = 12)
d <- read.csv(commandArgs(TRUE)[1], colClasses = c(coat = "factor", cell = "factor", lot = "factor", coupon = "factor", session = "factor"))
random <- "(1 | session)"
for (k in levels(d$coat)) {
  d[[paste0("c", k)]] <- 1 * (d$coat == k); d[[paste0("t", k)]] <- d$t * (d$coat == k)
  random <- c(random, sprintf("(0 + c%s | coupon) + (0 + t%s | coupon) + (0 + t%s | lot)", k, k, k))
}
slopes <- paste0("t", levels(d$coat))
f <- as.formula(paste("y ~ 0 + cell +", paste(slopes, collapse = " + "), "+", paste(random, collapse = " + ")))
time <- system.time(m <- suppressMessages(suppressWarnings(lmer(f, d, control = lmerControl(calc.derivs = FALSE)))))
cat("criterion", REMLcrit(m), "\nseconds", time[["user.self"]] + time[["sys.self"]], "\n")
s <- coef(summary(m))[slopes, ]
for (k in slopes) cat("slope", k, s[k, 1], s[k, 2], "\n")
