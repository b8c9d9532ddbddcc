# Limits of Q for verdict_misfit_test.go, made with R 4.2.2:
#   Rscript misfit.R     (in this folder; writes misfit.csv)
#
# nu: degrees of freedom of the smooth part, from that of a few coefficients to that of 12 curves; nu_s: those of the noise,
# from 60 points of one curve to infinity, where it is stated. limit: the quantile of F that chance exceeds once in 1,000 times.
d <- expand.grid(nu = c(1, 2.5, 7, 12, 28.7, 40, 48, 76.4, 144), nu_s = c(15, 61, 96.25, 361, 2000, Inf))
d$limit <- sprintf("%.12g", qf(0.999, d$nu, d$nu_s))
write.csv(d, "misfit.csv", row.names = FALSE, quote = FALSE)
