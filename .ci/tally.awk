# tally.awk reads what `go test -v` prints. A package that passes is one line, its
# closing one; a package that fails is everything it said except the tests that passed.
# At the end, the counts of passed and failed tests go to the file named by `counts`.

function close_package(failed) {
	if (failed) {
		for (i = 0; i < held; i++) print said[i]
		# A package that does not build, or runs out of time, fails without naming a test.
		if (fails == before) fails++
	}
	held = 0
	before = fails
}

/^(PASS|FAIL)$/ || /^=== (RUN|PAUSE|CONT|NAME)/ { next }
/^ *--- PASS: /              { if (/^---/) passes++; next }
/^--- FAIL: /                { fails++ }
/^ok  \t/                    { close_package(0); print; fflush(); next }
/^\?   \t/                   { close_package(0); next } # no tests
/^FAIL\t/                    { close_package(1); print; fflush(); next }
                             { said[held++] = $0 }
END {
	for (i = 0; i < held; i++) print said[i]
	print passes + 0, fails + 0 > counts
}
