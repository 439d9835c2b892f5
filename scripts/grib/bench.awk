# Makes tables of the figures that scripts/grib/bench collects: lines as go test
# prints benchmarks, several of each, of which the middle one counts.

/^Benchmark/ {
	name = $1
	sub(/^Benchmark/, "", name)
	if (!(name in rounds)) names[++count] = name
	rounds[name]++
	for (i = 3; i < NF; i += 2) figure[name, $(i + 1), rounds[name]] = $i
}

# middle is the median of the rounds, 0 if there is none.
function middle(name, unit,   n, i, j, v, x) {
	n = 0
	for (i = 1; i <= rounds[name]; i++) if ((name, unit, i) in figure) {
		v = figure[name, unit, i] + 0
		for (j = ++n; j > 1 && x[j - 1] > v; j--) x[j] = x[j - 1]
		x[j] = v
	}
	return n ? x[int((n + 1) / 2)] : 0
}

function against(ours, theirs) {
	return theirs > 0 ? sprintf("%8.4g (%.1fx)", theirs, ours / theirs) : sprintf("%8s       ", "-")
}

END {
	print "decode, million points a second of processor time; in brackets how many times as fast ours is"
	printf "  %-36s %8s  %-17s %s\n", "file", "ours", "ecCodes", "grib module"
	for (k = 1; k <= count; k++) if (names[k] ~ /^Values\//) {
		file = substr(names[k], 8)
		ours = middle(names[k], "Mpoints/s")
		printf "  %-36s %8.4g  %-17s %s\n", file, ours, against(ours, middle("EcCodes/values/" file, "Mpoints/s")), against(ours, middle("Griblib/" file, "Mpoints/s"))
	}
	for (k = 1; k <= count; k++) if (names[k] ~ /^EcCodes\/values\//) {
		file = substr(names[k], 16)
		if (!(("Values/" file) in rounds)) printf "  %-36s %8s  %8.4g\n", file, "-", middle(names[k], "Mpoints/s")
	}
	print "pack, seconds of processor time for a file of 0.25° and 500 MB (load test)"
	printf "  %-36s %8.4g\n", "headers of all 743 fields", middle("Scan/big", "s/file")
	printf "  %-36s %8.4g\n", "U, V, T, height cut to 15° x 15°", middle("Window/big", "s/file")
	printf "  %-36s %8.4g\n", "the same over the seam of the grid", middle("Window/seam", "s/file")
	theirs = middle("EcCodes/window/big", "s/file")
	if (theirs > 0) printf "  %-36s %8.4g (%.0fx)\n", "the same fields whole with ecCodes", theirs, theirs / middle("Window/big", "s/file")
}
