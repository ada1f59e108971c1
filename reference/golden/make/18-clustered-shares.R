# 18 - intervals of shares from clustered and stratified samples (Korn & Graubard), svyciprop(method = "beta").
suppressPackageStartupMessages(library(survey))
rd <- function(f) read.csv(file.path(DATA, f)); s <- rd("apistrat.csv"); c1 <- rd("apiclus1.csv")
add <- function(d) transform(d, high = stype == "H", middle = stype == "M", top = api00 >= 850, low = api00 < 450, fell = growth < 0, over_600 = api00 > 600, most_meals = meals >= 95, no_school = api00 < 0, all_schools = api00 > 0)
s <- add(s); c1 <- add(c1)
designs <- list(apiclus1 = svydesign(ids = ~dnum, weights = ~pw, fpc = ~fpc, data = c1), apiclus1_no_fpc = svydesign(ids = ~dnum, weights = ~pw, data = c1), apistrat = svydesign(ids = ~1, strata = ~stype, weights = ~pw, fpc = ~fpc, data = s), apistrat_no_fpc = svydesign(ids = ~1, strata = ~stype, weights = ~pw, data = s))
cases <- c("high", "middle", "top", "low", "fell", "over_600", "most_meals", "no_school", "all_schools"); levels <- c(.9, .95)
rows <- list()
for (n in names(designs)) for (v in cases) {
  d <- designs[[n]]; f <- as.formula(paste0("~I(as.numeric(", v, "))")); m <- svymean(f, d); p <- as.numeric(coef(m)); se <- as.numeric(SE(m)); N <- nrow(d); df <- degf(d)
  if (n %in% c("apistrat", "apistrat_no_fpc") && v %in% c("high", "middle")) next   # the strata themselves: no spread
  for (level in levels) { a <- 1 - level
    if (p == 0 || p == 1 || se == 0) { ratio <- (qt(a / 2, N - 1) / qt(a / 2, df))^2; n_eff <- N * min(ratio, 1); capped <- n_eff; ci <- c(NA, NA) }
    else { ci <- as.numeric(confint(svyciprop(as.formula(paste0("~I(", v, ")")), d, method = "beta", level = level, df = df)))
      n_eff <- p * (1 - p) / se^2 * (qt(a / 2, N - 1) / qt(a / 2, df))^2; capped <- min(n_eff, N)
      near(ci, c(qbeta(a / 2, n_eff * p, n_eff * (1 - p) + 1), qbeta(1 - a / 2, n_eff * p + 1, n_eff * (1 - p))), 1e-9, "svyciprop by hand") }
    k <- capped * p; exact <- c(if (k > 0) qbeta(a / 2, k, capped - k + 1) else 0, if (k < capped) qbeta(1 - a / 2, k + 1, capped - k) else 1)
    if (!is.na(ci[1]) && n_eff <= N) near(exact, ci, 1e-9, "capped")
    rows[[length(rows) + 1]] <- data.frame(design = n, case = v, level = level, share = p, se = se, units = N, df = df, n_effective = n_eff, svyciprop_low = ci[1], svyciprop_high = ci[2], low = exact[1], high = exact[2]) } }
t18 <- do.call(rbind, rows)
# a simple random sample: the interval of Clopper & Pearson
for (k in c(0, 1, 7, 40)) { b <- binom.test(k, 40)$conf.int; near(as.numeric(b), c(if (k > 0) qbeta(.025, k, 40 - k + 1) else 0, if (k < 40) qbeta(.975, k + 1, 40 - k) else 1), 1e-9, "binom.test") }
freedom <- list(hand = list(moves = list(c(2, -1, -1), c(3, -3)), df = (9 + 36)^2 / (9^2 / 2 + 36^2 / 1)))
widened <- expand.grid(level = c(.8, .9, .95, .99), df = c(2, 3, 10, 40.5)); widened$widened <- 2 * pnorm(qt((1 + widened$level) / 2, widened$df)) - 1
golden("18-clustered-shares.json", "intervals of shares from clustered samples", with_pkgs(pkg("survey", "svydesign, svymean, svyciprop, degf"), "stats::qbeta, qt"),
  list(apiclus1_csv = "apiclus1.csv", apistrat_csv = "apistrat.csv", cases = "high: stype H; middle: stype M; top: api00 >= 850; low: api00 < 450; fell: growth < 0; over_600: api00 > 600; most_meals: meals >= 95; no_school and all_schools: never and always"),
  list(shares = t18, freedom = freedom, widened = widened), 1e-9, c(
  "svyciprop(method = 'beta'): n* = p(1-p)/var(p) (qt(a/2, n-1)/qt(a/2, df))^2, ends qbeta(a/2, n* p, n*(1-p) + 1) and qbeta(1-a/2, n* p + 1, n*(1-p)); df = degf(design): clusters less strata. svyciprop_low and _high are its own; null where the share has no spread, for which it gives none.",
  "low and high: the same with n* at most n (Korn & Graubard 1998, who would not credit a design with more than its units). n_effective is n* before that bound; where it is n or less they are svyciprop's own (checked to 1e-9).",
  "A share of 0 or 1 has SE 0: n stands in for p(1-p)/var(p), then df shrinks it as elsewhere.",
  "freedom: Satterthwaite, V_h = m/(m-1) sum L^2: groups (2, -1, -1) and (3, -3) give 9 and 36. widened: 2 pnorm(qt((1+level)/2, df)) - 1."))
