# lib.R - what every topic script needs: a JSON writer at full double precision, paths, invented names.
# Base R only.  A number is written with the fewest of 15-17 significant digits that read back to the same double.
# Shapes: named list -> object; data.frame -> object of columns (arrays); matrix -> array of rows;
# vector of length 1 -> scalar, unless wrapped in I(); NA -> null; infinite -> "Inf" / "-Inf".

GOLDEN <- file.path(HERE, "..")
DATA   <- file.path(HERE, "..", "..", "data")
dir.create(GOLDEN, FALSE, TRUE); dir.create(DATA, FALSE, TRUE)
RNGkind("Mersenne-Twister", "Inversion", "Rejection")

num <- function(x) vapply(x, function(v) {
  if (is.na(v)) return("null")
  if (is.infinite(v)) return(if (v > 0) "\"Inf\"" else "\"-Inf\"")
  if (v == round(v) && abs(v) < 1e15) return(sprintf("%.0f", v))
  for (d in 15:17) { s <- sprintf("%.*g", d, v); if (as.numeric(s) == v) break }
  s }, "")
str1 <- function(x) { x <- gsub("\\", "\\\\", x, fixed = TRUE); x <- gsub("\"", "\\\"", x, fixed = TRUE)
  x <- gsub("\n", "\\n", x, fixed = TRUE); ifelse(is.na(x), "null", paste0("\"", x, "\"")) }
atoms <- function(x) {
  if (is.factor(x) || inherits(x, "Date")) x <- as.character(x)
  if (is.logical(x)) return(ifelse(is.na(x), "null", ifelse(x, "true", "false")))
  if (is.numeric(x)) return(num(x))
  str1(x) }
json <- function(x, ind = 0, array = FALSE) {
  pad <- strrep(" ", ind + 2); end <- strrep(" ", ind)
  asis <- inherits(x, "AsIs"); if (asis) class(x) <- setdiff(class(x), "AsIs")
  arr <- array || asis
  if (is.null(x)) return("null")
  if (is.data.frame(x)) {
    f <- vapply(names(x), function(n) paste0(pad, str1(n), ": ", json(x[[n]], ind + 2, TRUE)), "")
    return(paste0("{\n", paste(f, collapse = ",\n"), "\n", end, "}")) }
  if (is.matrix(x)) {
    r <- vapply(seq_len(nrow(x)), function(i) paste0(pad, "[", paste(atoms(x[i, ]), collapse = ", "), "]"), "")
    return(paste0("[\n", paste(r, collapse = ",\n"), "\n", end, "]")) }
  if (is.list(x)) {
    if (length(x) == 0) return("{}")
    if (is.null(names(x))) {
      r <- vapply(x, function(v) paste0(pad, json(v, ind + 2)), "")
      return(paste0("[\n", paste(r, collapse = ",\n"), "\n", end, "]")) }
    f <- vapply(names(x), function(n) paste0(pad, str1(n), ": ", json(x[[n]], ind + 2)), "")
    return(paste0("{\n", paste(f, collapse = ",\n"), "\n", end, "}")) }
  if (!arr && length(x) == 1) {
    if (!is.null(names(x)) && nzchar(names(x)[1])) return(paste0("{", str1(names(x)), ": ", atoms(unname(x)), "}"))
    return(atoms(x)) }
  if (!is.null(names(x)) && !arr)
    return(paste0("{", paste(paste0(str1(names(x)), ": ", atoms(unname(x))), collapse = ", "), "}"))
  a <- atoms(unname(x))
  paste0("[", paste(a, collapse = ", "), "]") }

rver <- paste0("R ", getRversion())
with_pkgs <- function(...) paste0(rver, ": ", paste(c(...), collapse = ", "))
pkg <- function(p, what = "") paste0(p, " ", packageVersion(p), if (nzchar(what)) paste0(" (", what, ")"))

golden <- function(file, topic, computed_with, input, output, tolerance = 1e-6, notes = character(0)) {
  out <- list(topic = topic, computed_with = computed_with, input = input, output = output,
              tolerance = tolerance, notes = I(as.character(notes)))
  writeLines(json(out), file.path(GOLDEN, file), useBytes = TRUE)
  cat("wrote", file, "\n") }
csv <- function(x, file) write.csv(x, file.path(DATA, file), row.names = FALSE, quote = FALSE, na = "")
near <- function(a, b, tol = 1e-8, what = "") {
  d <- max(abs(a - b) / pmax(1, abs(b)))
  if (!is.finite(d) || d > tol) stop(what, ": second route differs by ", format(d)) else d }

# Newton polish of a minimum: f smooth, p start; stops when the step is below 1e-11 relative.
polish <- function(f, p, n = 30) {
  for (i in seq_len(n)) {
    g <- numDeriv::grad(f, p); H <- numDeriv::hessian(f, p, method.args = list(d = 0.01))
    s <- solve(H, g); p1 <- p - s
    if (f(p1) > f(p) + 1e-9 * (1 + abs(f(p)))) p1 <- p - s / 4
    done <- max(abs(p1 - p) / (1e-3 + abs(p))) < 1e-10; p <- p1
    if (done) break }
  list(par = p, value = f(p), grad = numDeriv::grad(f, p), hessian = numDeriv::hessian(f, p, method.args = list(d = 0.01))) }
