# One variance of the residual for each sex: nlme on Orthodont, for TestResidualKindsAgainstNlme.
#   Rscript residual_kinds.R
library(nlme)
cat(R.version.string, "nlme", as.character(packageVersion("nlme")), "\n")
f <- lme(distance ~ Sex * I(age - 11), random = ~ 1 | Subject, data = Orthodont, method = "REML",
         weights = varIdent(form = ~ 1 | Sex), control = lmeControl(msTol = 1e-12, tolerance = 1e-10, opt = "optim", reltol = 1e-14))
options(digits = 12)
print(-2 * as.numeric(logLik(f)))
print(as.numeric(VarCorr(f)[1, 1]))
print((f$sigma * coef(f$modelStruct$varStruct, uncons = FALSE, allCoef = TRUE))^2)
print(fixef(f)); print(sqrt(diag(vcov(f))))
