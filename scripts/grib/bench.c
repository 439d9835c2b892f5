/* How many million points a second of CPU ecCodes decodes, to set beside
 * BenchmarkValues and BenchmarkPackings of internal/grib on the same file:
 *
 *     cc -O2 -o bench scripts/grib/bench.c -leccodes && ./bench FILE [SECONDS]
 *
 * Every field is in memory before the clock runs; values come as double, and the
 * message is parsed once only, so ecCodes is given the better of it. Needs
 * libeccodes-dev of Debian 12.
 */
#include <eccodes.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define FIELDS 1000

static double cpu(void) {
	struct timespec t;
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return t.tv_sec + t.tv_nsec * 1e-9;
}

int main(int argc, char **argv) {
	static codes_handle *fields[FIELDS];
	size_t most = 0, n;
	int count = 0, status = 0;
	double points = 0, limit = argc > 2 ? atof(argv[2]) : 1;
	FILE *file = argc > 1 ? fopen(argv[1], "rb") : NULL;
	if (file == NULL) {
		fprintf(stderr, "usage: bench FILE [SECONDS]: want a GRIB file\n");
		return 2;
	}
	codes_grib_multi_support_on(NULL);
	while (count < FIELDS && (fields[count] = codes_grib_handle_new_from_file(NULL, file, &status)) != NULL) {
		CODES_CHECK(codes_get_size(fields[count++], "values", &n), NULL);
		if (n > most)
			most = n;
	}
	CODES_CHECK(status, NULL);
	double *values = malloc((most + 1) * sizeof *values);
	double begin = cpu(), spent = 0;
	while (count > 0 && values != NULL && spent < limit) {
		for (int i = 0; i < count; i++) {
			n = most;
			CODES_CHECK(codes_get_double_array(fields[i], "values", values, &n), NULL);
			points += n;
		}
		spent = cpu() - begin;
	}
	printf("ecCodes %s: %d fields, %.1f Mpoints/s\n", argv[1], count, points / 1e6 / spent);
	return 0;
}
