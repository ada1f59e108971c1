# make.R - remakes every file of reference/data and reference/golden:  Rscript make.R [NN ...]
# Needs base R, the recommended packages, numDeriv, survey, vcd (one data set), posterior (a second route).
a <- commandArgs(FALSE); f <- sub("^--file=", "", a[grep("^--file=", a)])
HERE <- if (length(f)) dirname(f) else "."
only <- commandArgs(TRUE)
options(digits = 15, warn = 1, stringsAsFactors = FALSE)
for (s in sort(list.files(HERE, "^[0-9][0-9]-.*[.]R$"))) {
  if (length(only) && !substr(s, 1, 2) %in% only) next
  e <- new.env(parent = globalenv()); e$HERE <- HERE
  sys.source(file.path(HERE, "lib.R"), e); environment(e$golden) <- e
  sys.source(file.path(HERE, s), e) }
