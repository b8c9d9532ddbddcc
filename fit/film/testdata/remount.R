# Reference values for remount_lme4_test.go, made with R 4.2.2, lme4 1.1-31:
#   Rscript remount.R     (in this folder; writes remount.csv and prints the figures)
#
# A made-up series: 9 placements of 3 curves of 24 points, in percent. lme4 has one mean for each point of each curve, and
# random factors (of the mean curve), tilts and zeros of placements, all by REML, from the curves themselves.
suppressMessages(library(lme4))
options(digits = 12)
set.seed(77)
M <- 9
d <- expand.grid(point = 1:24, curve = 1:3, placement = 1:M)
x <- (d$point - 12.5) / 12
shape <- function(curve, x) c(2, 3, 6)[curve] * (1 + c(0.5, -0.3, 0.1)[curve] * x + c(0.4, 0.6, 0.2)[curve] * x^2)
d$slope <- round(c(0.02, 0.15, 0.4)[d$curve] * (1 - 0.4 * x + 0.3 * sin(3 * x)), 4)
a <- rnorm(M * 3, 0, 0.01); b <- rnorm(M, 0, 0.1); z <- rnorm(M, 0, 0.02)
d$y <- round(shape(d$curve, x) * (1 + a[(d$placement - 1) * 3 + d$curve]) + b[d$placement] * d$slope + z[d$placement] +
             rnorm(nrow(d), 0, 0.02), 4)
write.csv(d, "remount.csv", row.names = FALSE, quote = FALSE)
d$mean <- ave(d$y, d$curve, d$point)
d$at <- interaction(d$curve, d$point); d$set <- interaction(d$placement, d$curve); d$placement <- factor(d$placement)
fit <- lmer(y ~ 0 + at + (0 + mean | set) + (0 + slope | placement) + (1 | placement), d,
            control = lmerControl(optimizer = "bobyqa", calc.derivs = FALSE, check.conv.singular = "ignore",
                                  optCtrl = list(rhobeg = 0.2, rhoend = 1e-12, maxfun = 1e6)))
v <- as.data.frame(VarCorr(fit))
print(v[, c("grp", "var1", "sdcor")], digits = 12)
