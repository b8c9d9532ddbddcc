# Slopes and profile intervals, by R. Prints the figures of shape_test.go.
#     Rscript shape.R
suppressMessages(library(MASS))
cat(R.version.string, "\n"); options(digits = 10)

# Levels with a free intercept, with the covariance of the levels: the baseline and five pulls, own variances and a session
# that the third and the fourth value share.
x <- c(0, 30, 90, 180, 270, 365)
y <- c(97.50, 97.41, 97.29, 97.21, 97.14, 97.13)
v <- diag(c(5e-5, 1e-4, 2e-4, 1e-4, 3e-4, 1e-4)); v[3:4, 3:4] <- v[3:4, 3:4] + 2e-5
e <- eigen(solve(v)); half <- e$vectors %*% diag(sqrt(e$values)) %*% t(e$vectors)
m <- lm(half %*% y ~ 0 + half %*% cbind(1, x))
b <- solve(t(cbind(1, x)) %*% solve(v) %*% cbind(1, x))
cat("gls with intercept:", coef(m)[2], "u", sqrt(b[2, 2]), "\n")
cat("lm.gls:", coef(lm.gls(y ~ x, W = solve(v), inverse = FALSE, method = "qr"))[2], "\n")

# Errors not known: ordinary least squares with an intercept, and the profile of an exponential.
s <- summary(lm(y ~ x)); cat("lm:", s$coefficients[2, 1:2], confint(lm(y ~ x))[2, ], "\n")
x <- c(0, 30, 60, 90, 120, 180, 270, 365)
y <- c(97.50, 97.42, 97.33, 97.30, 97.24, 97.19, 97.13, 97.12)
f <- deriv(~ a + f * (1 - exp(-x / exp(l))), c("a", "f", "l"), function(x, a, f, l) {})
n <- nls(y ~ f(x, a, f, l), start = list(a = 97.5, f = -0.4, l = 4.8), control = nls.control(tol = 1e-7))
cat("nls:", coef(n), "u", summary(n)$coefficients[, 2], "scale", exp(coef(n)[3]), "\n")
# Profiles: the sum of squares, least over the other parameters, rises by t^2 of its mean square. (confint of nls stops.)
limit <- deviance(n) * (1 + qt(.975, 5)^2 / 5)
of_scale <- function(l) { g <- 1 - exp(-x / exp(l)); sum(resid(lm(y ~ g))^2) - limit }
l <- coef(n)[3]
cat("scale", exp(uniroot(of_scale, c(l - 2, l), tol = 1e-12)$root), exp(uniroot(of_scale, c(l, l + 2), tol = 1e-12)$root), "\n")
of_floor <- function(f) optimize(function(l) { g <- f * (1 - exp(-x / exp(l))); sum((y - g - mean(y - g))^2) },
                                 c(2, 8), tol = 1e-11)$objective - limit
f <- coef(n)[2]
cat("floor", uniroot(of_floor, c(f - .2, f), tol = 1e-12)$root, uniroot(of_floor, c(f, f + .1), tol = 1e-12)$root, "\n")

# Five coupons with the same errors: the t interval of their slopes.
x <- c(90, 180, 365)
w <- solve(matrix(2e-4, 3, 3) + diag(1e-4, 3))
ys <- rbind(c(-.05, -.12, -.21), c(-.09, -.18, -.37), c(-.07, -.13, -.30), c(-.11, -.20, -.44), c(-.04, -.10, -.19))
slopes <- apply(ys, 1, function(y) sum(x * (w %*% y)) / sum(x * (w %*% x)))
t <- t.test(slopes); cat("t:", t$estimate, t$stderr, t$conf.int, "df", t$parameter, "\n")
