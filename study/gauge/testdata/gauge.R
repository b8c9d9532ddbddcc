# Variance components of a balanced gauge study, for the tests of this package. R 4.2.2.
#
# usage: Rscript gauge.R    writes gauge.csv and prints gauge.txt
#
# Two things, read in four sessions, three placements in each, two repeats of each; made up. Mean squares by
# ave and var; qchisq and qf give the intervals, by the formulas of Ting
# and others (1990) and of Graybill and Wang (1980), written here again.
set.seed(11)
d <- expand.grid(rep = 1:2, placement = 1:3, session = paste0("s", 1:4), thing = c("E1", "B1"))
session <- rnorm(4, 0, 0.03); place <- rnorm(24, 0, 0.02)
d$group <- interaction(d$thing, d$session, d$placement)
d$value <- round(ifelse(d$thing == "E1", 98.7, 95.8) + session[as.integer(d$session)] + place[as.integer(d$group)] + rnorm(48, 0, 0.01), 5)
write.csv(d[, c("thing", "session", "placement", "value")], "gauge.csv", row.names = FALSE, quote = FALSE)

cells <- aggregate(value ~ group + session + thing, d, mean)
se2 <- sum((d$value - ave(d$value, d$group))^2) / 24
sp2 <- sum((cells$value - ave(cells$value, cells$thing, cells$session))^2) / 16
means <- tapply(cells$value, cells$session, mean); ss2 <- var(means)
cat(sprintf("sd of repeat, placement, session %.8f %.8f %.8f\n", sqrt(se2), sqrt(sp2 - se2 / 2), sqrt(ss2 - sp2 / 6)))
cat(sprintf("repeat %.8f %.8f\n", sqrt(24 * se2 / qchisq(.975, 24)), sqrt(24 * se2 / qchisq(.025, 24))))
difference <- function(x, n1, y, n2, a = .025) {
  Fu <- function(a, n1, n2) qf(a, n1, n2, lower.tail = FALSE)
  G <- function(n) 1 - 1 / Fu(a, n, Inf); H <- function(n) 1 / Fu(1 - a, n, Inf) - 1
  f <- Fu(a, n1, n2); G12 <- ((f - 1)^2 - G(n1)^2 * f^2 - H(n2)^2) / f
  g <- Fu(1 - a, n1, n2); H12 <- ((1 - g)^2 - H(n1)^2 * g^2 - G(n2)^2) / g
  c(x - y - sqrt(G(n1)^2 * x^2 + H(n2)^2 * y^2 + G12 * x * y), x - y + sqrt(H(n1)^2 * x^2 + G(n2)^2 * y^2 + H12 * x * y))
}
show <- function(name, v) cat(name, sprintf("%.8f", sqrt(pmax(0, v))), "\n")
show("placement", difference(sp2, 16, se2 / 2, 24))
show("reproducibility", difference(ss2, 3, sp2 / 6, 16))
w <- c(1, 1 - 1 / 6, 1 / 2) * c(ss2, sp2, se2); n <- c(3, 16, 24)
show("total", c(sum(w), sum(w) - sqrt(sum((w * (1 - n / qchisq(.975, n)))^2)), sum(w) + sqrt(sum((w * (n / qchisq(.025, n) - 1))^2))))
cat(sprintf("total dof %.6f\n", sum(w)^2 / sum(w^2 / n)))
# six coupons and six controls, once in each session, now and at the baseline; and six coupons without controls
within <- c(sp2, se2 / 2); u2 <- within * 2 * (1 / 6 + 1 / 6); nu <- sum(u2)^2 / sum(u2^2 / n[2:3])
cat(sprintf("with controls u %.8f dof %.6f least %.8f\n", sqrt(sum(u2)), nu, (qnorm(.975) + qnorm(.8)) * sqrt(sum(u2))))
u2 <- c(2 * ss2, sp2 * (2 / 6 - 2 / 6), se2 / 2 * 2 / 6); nu <- sum(u2)^2 / sum(u2^2 / n)
cat(sprintf("without u %.8f dof %.6f least %.8f\n", sqrt(sum(u2)), nu, (qnorm(.975) + qnorm(.8)) * sqrt(sum(u2))))
