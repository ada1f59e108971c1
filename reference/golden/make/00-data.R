# 00-data.R - writes reference/data: public data sets out of R's own packages, and small invented fishery tables.
library(MASS); suppressPackageStartupMessages(library(survey))

## public ------------------------------------------------------------------------------------------
x <- iris; names(x) <- c("sepal_length", "sepal_width", "petal_length", "petal_width", "species"); csv(x, "iris.csv")
x <- MASS::crabs; names(x) <- c("species", "sex", "index", "frontal_lobe", "rear_width", "carapace_length", "carapace_width", "body_depth"); csv(x, "crabs.csv")
csv(MASS::fgl, "glass_fragments.csv")
x <- as.data.frame(Loblolly); csv(data.frame(seed = as.character(x$Seed), age = x$age, height = x$height), "loblolly.csv")
x <- as.data.frame(ChickWeight); csv(data.frame(chick = as.character(x$Chick), diet = as.character(x$Diet), time = x$Time, weight = x$weight), "chickweight.csv")
x <- as.data.frame(Orange); csv(data.frame(tree = as.character(x$Tree), age = x$age, circumference = x$circumference), "orange.csv")
data(api, package = "survey")
k <- c("stype", "snum", "dnum", "api99", "api00", "growth", "meals", "enroll", "pw")
csv(apistrat[, c(k, "fpc")], "apistrat.csv"); csv(apiclus1[, c(k, "fpc")], "apiclus1.csv"); csv(apiclus2[, c(k, "fpc1", "fpc2")], "apiclus2.csv")
x <- vcd::VisualAcuity; csv(data.frame(gender = x$gender, right = x$right, left = x$left, count = x$Freq), "visual_acuity.csv")
x <- as.data.frame(as.table(vcd::MSPatients)); names(x) <- c("neurologist_a", "neurologist_b", "patients", "count"); csv(x, "ms_patients.csv")

## invented ----------------------------------------------------------------------------------------
vb <- function(t, Linf = 240, K = .18, t0 = -.7) Linf * (1 - exp(-K * (t - t0)))

# three readers; empty cell = not read; fish with mean 0, fish with one reading only
set.seed(2101)
n <- 80; true <- pmin(rgeom(n, .18), 11); true[1:4] <- 0
r <- sapply(c(.09, .12, .10), function(cv) pmax(0, round(true + rnorm(n, 0, cv * pmax(true, 1)))))
r[, 2] <- pmax(0, round(r[, 2] * 1.06)); r[1:2, ] <- 0
r[sample(5:n, 12), 3] <- NA; r[sample(5:n, 6), 2] <- NA
csv(data.frame(fish = sprintf("R%03d", 1:n), reader_a = r[, 1], reader_b = r[, 2], reader_c = r[, 3]), "invented_readings.csv")

# aged fish: two years, four quarters, two banks, trips; age is the agreed age
set.seed(2102)
n <- 640
yr <- sample(c(2031, 2032), n, TRUE, c(.55, .45)); q <- sample(1:4, n, TRUE, c(.15, .35, .35, .15))
bank <- ifelse(runif(n) < .55, "Quarrow", "Skell")
a <- sample(1:7, n, TRUE, c(.10, .20, .22, .18, .14, .10, .06))
len <- round(vb(a + (q - .5) / 4 - .25 * (bank == "Skell")) * (1 + .13 * rnorm(n)))
trip <- paste0(substr(bank, 1, 1), substr(yr, 3, 4), q, "-", sample(1:3, n, TRUE))
o <- order(yr, q, bank, trip, len)
csv(data.frame(fish = sprintf("A%04d", 1:n), year = yr[o], quarter = q[o], bank = bank[o], trip = trip[o], length_cm = len[o], age = a[o]), "invented_aged.csv")

# aged fish whose ages overlap widely in length, for the smoothed key (its unpenalised fit must exist at every stage)
set.seed(2112)
n <- 600; bank <- sample(c("Quarrow", "Skell", "Dunmarrow"), n, TRUE, c(.45, .35, .20)); a <- sample(2:6, n, TRUE, c(.22, .24, .22, .18, .14))
len <- round(vb(a + .5 - .35 * (bank == "Skell") + .2 * (bank == "Dunmarrow")) * (1 + .17 * rnorm(n)))
trip <- paste0(substr(bank, 1, 1), sample(1:8, n, TRUE)); o <- order(bank, trip, len)
csv(data.frame(fish = sprintf("V%04d", 1:n), bank = bank[o], trip = trip[o], length_cm = len[o], age = a[o]), "invented_aged_overlap.csv")

# length counts by trip and 10 cm bin (lower edge), three catch strata with samples
set.seed(2103)
st <- c(rep("Quarrow-line", 5), rep("Quarrow-net", 2), rep("Skell-line", 3), "Skell-net")
M <- c(820, 310, 1240, 560, 95, 2100, 1400, 430, 770, 288, 990)
age_mean <- c(4.2, 3.8, 4.6, 4.0, 3.4, 2.6, 2.9, 4.8, 4.4, 5.1, 3.0)
rows <- do.call(rbind, lapply(seq_along(st), function(t) {
  m <- sample(60:140, 1); aa <- pmin(7, pmax(1, round(rnorm(m, age_mean[t], 1.4))))
  b <- 10 * (round(vb(aa + .5) * (1 + .08 * rnorm(m))) %/% 10)
  tb <- table(b); data.frame(stratum = st[t], trip = sprintf("T%02d", t), landed_number = M[t], bin_cm = as.integer(names(tb)), count = as.integer(tb)) }))
csv(rows, "invented_trip_lengths.csv")

# growth: two groups, length-stratified sub-sample with inclusion probabilities
set.seed(2104)
N <- 6000; g <- ifelse(runif(N) < .5, "F", "M"); a <- pmax(.3, rgamma(N, 2.4, .42)); a <- pmin(a, 22)
L <- ifelse(g == "F", vb(a, 245, .175, -.75), vb(a, 228, .20, -.70)) * (1 + .07 * rnorm(N))
bin <- 20 * (L %/% 20); tab <- table(bin); take <- pmin(tab, 22)
keep <- unlist(lapply(names(tab), function(b) { i <- which(bin == as.numeric(b)); i[sample.int(length(i), take[[b]])] }))
d <- data.frame(group = g[keep], age = round(a[keep], 3), length_cm = round(L[keep], 1), inclusion = as.numeric((take / tab)[as.character(bin[keep])]))
d <- d[order(d$group, d$age), ]; csv(cbind(fish = sprintf("G%03d", seq_len(nrow(d))), d), "invented_growth.csv")

# stone radius at capture and at each annulus, length at capture
set.seed(2105)
n <- 25; a <- sample(2:8, n, TRUE); Lc <- round(vb(a + .4) * (1 + .07 * rnorm(n)), 1)
Sc <- round(.35 + .0115 * Lc + .08 * rnorm(n), 3)
d <- do.call(rbind, lapply(seq_len(n), function(i) {
  li <- vb(seq_len(a[i])) * Lc[i] / vb(a[i] + .4); data.frame(fish = sprintf("K%02d", i), length_cm = Lc[i], radius_mm = Sc[i], annulus = seq_len(a[i]),
    annulus_radius_mm = round(.35 + (Sc[i] - .35) * li / Lc[i] + .012 * rnorm(a[i]), 3)) }))
csv(d, "invented_radii.csv")

# chemistry: baseline of three nurseries over three year classes; mixed sample with weights (fish of the catch each stands for)
set.seed(2106)
mu <- rbind(Upper = c(-8.60, -0.65), Lower = c(-9.15, -1.10), Outer = c(-8.90, -0.20))
S <- list(Upper = matrix(c(.060, .018, .018, .045), 2), Lower = matrix(c(.075, .010, .010, .070), 2), Outer = matrix(c(.050, -.012, -.012, .060), 2))
nk <- c(Upper = 66, Lower = 54, Outer = 42)
b <- do.call(rbind, lapply(names(nk), function(k) { yc <- rep(2028:2030, length.out = nk[k])
  z <- matrix(rnorm(2 * nk[k]), ncol = 2) %*% chol(S[[k]]) + rep(1, nk[k]) %o% mu[k, ] + cbind(.08 * (yc - 2029), .05 * (yc - 2029))
  data.frame(nursery = k, year_class = yc, d13C = round(z[, 1], 3), d18O = round(z[, 2], 3)) }))
csv(cbind(fish = sprintf("N%03d", seq_len(nrow(b))), b), "invented_baseline.csv")
n <- 150; k <- sample(names(nk), n, TRUE, c(.55, .30, .15))
z <- t(sapply(k, function(j) drop(rnorm(2) %*% chol(S[[j]])) + mu[j, ]))
z[149, ] <- c(-6.9, 1.1); z[150, ] <- c(-10.8, -2.9)
csv(data.frame(fish = sprintf("X%03d", 1:n), age = sample(3:14, n, TRUE), stands_for = round(exp(rnorm(n, 4, .7)), 1), d13C = round(z[, 1], 3), d18O = round(z[, 2], 3)), "invented_mixed.csv")
