/*
 * What ecCodes takes to decode GRIB2 files, printed as go test prints benchmarks:
 *
 *     eccodes_bench SECONDS values FILE...   all values of all fields, as double
 *     eccodes_bench SECONDS window FILE      U, V, T and height of all isobaric
 *                                            levels, of which a box is kept
 *     eccodes_bench repack PACKING IN OUT    the fields of IN in another packing,
 *                                            such as grid_ccsds
 *
 * Each FILE is decoded again and again for SECONDS of processor time. ecCodes has
 * no way to unpack a part of a field. Built and run by scripts/grib/bench; needs
 * libeccodes-dev.
 */
#include <eccodes.h>
#include <libgen.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double cpu(void)
{
	struct timespec t;
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return t.tv_sec + t.tv_nsec * 1e-9;
}

static void check(int err, const char *what)
{
	if (err) {
		fprintf(stderr, "eccodes_bench: %s: %s\n", what, codes_get_error_message(err));
		exit(1);
	}
}

/* wanted reports whether the field is one that a wind field needs. */
static int wanted(codes_handle *h)
{
	long discipline, category, number, surface;
	check(codes_get_long(h, "discipline", &discipline), "discipline");
	check(codes_get_long(h, "parameterCategory", &category), "category");
	check(codes_get_long(h, "parameterNumber", &number), "number");
	check(codes_get_long(h, "typeOfFirstFixedSurface", &surface), "surface");
	return discipline == 0 && surface == 100 &&
	       ((category == 2 && (number == 2 || number == 3)) || (category == 0 && number == 0) || (category == 3 && number == 5));
}

static double *values;
float kept[61 * 61];

/* unpack fills values with those of a field and returns how many they are. */
static size_t unpack(codes_handle *h)
{
	static size_t room;
	size_t n;
	check(codes_get_size(h, "values", &n), "size");
	if (n > room) {
		room = n;
		values = realloc(values, n * sizeof *values);
	}
	check(codes_get_double_array(h, "values", values, &n), "values");
	return n;
}

/* decode goes through a file once and returns how many points it unpacked. */
static size_t decode(const char *path, int window, size_t *fields)
{
	size_t points = 0;
	int err = 0;
	codes_handle *h;
	FILE *f = fopen(path, "rb");
	if (!f) {
		perror(path);
		exit(1);
	}
	while ((h = codes_handle_new_from_file(NULL, f, PRODUCT_GRIB, &err))) {
		if (!window || wanted(h)) {
			points += unpack(h);
			if (window) {
				for (int j = 0; j < 61; j++)
					for (int i = 0; i < 61; i++)
						kept[j * 61 + i] = (float)values[(210 - j) * 1440 + 1000 + i];
			}
			++*fields;
		}
		codes_handle_delete(h);
	}
	check(err, path);
	fclose(f);
	return points;
}

/* wide is how many bits a value takes in the packing that repack writes. */
#define wide 12

/*
 * repack writes the fields of a file in another packing, with 12 bits a value and
 * no decimal scale: with one, ecCodes 2.28 writes values in grid_ccsds wrong.
 * Fields that it does not read back to half a step of packing are left out.
 */
static void repack(const char *packing, const char *in, const char *out)
{
	int err = 0;
	codes_handle *h;
	double *again = NULL;
	FILE *f = fopen(in, "rb"), *to = fopen(out, "wb");
	if (!f || !to) {
		perror(f ? out : in);
		exit(1);
	}
	while ((h = codes_handle_new_from_file(NULL, f, PRODUCT_GRIB, &err))) {
		const void *message;
		size_t length = strlen(packing), n = unpack(h);
		double low = values[0], high = values[0], worst = 0;
		int unread;
		check(codes_set_string(h, "packingType", packing, &length), packing);
		check(codes_set_long(h, "decimalScaleFactor", 0), "decimalScaleFactor");
		check(codes_set_long(h, "bitsPerValue", wide), "bitsPerValue");
		check(codes_set_double_array(h, "values", values, n), "values");
		again = realloc(again, n * sizeof *again);
		unread = codes_get_double_array(h, "values", again, &n);
		for (size_t i = 0; i < n; i++) {
			low = values[i] < low ? values[i] : low;
			high = values[i] > high ? values[i] : high;
			worst = fabs(again[i] - values[i]) > worst ? fabs(again[i] - values[i]) : worst;
		}
		if (unread || worst > 1.01 * (high - low) / (1 << wide)) {
			codes_handle_delete(h);
			continue;
		}
		check(codes_get_message(h, &message, &n), "message");
		if (fwrite(message, 1, n, to) != n) {
			perror(out);
			exit(1);
		}
		codes_handle_delete(h);
	}
	check(err, in);
	fclose(f);
	if (fclose(to)) {
		perror(out);
		exit(1);
	}
}

int main(int argc, char **argv)
{
	if (argc == 5 && !strcmp(argv[1], "repack")) {
		repack(argv[2], argv[3], argv[4]);
		return 0;
	}
	if (argc < 4 || (strcmp(argv[2], "values") && strcmp(argv[2], "window"))) {
		fprintf(stderr, "usage: eccodes_bench SECONDS values|window FILE... | repack PACKING IN OUT\n");
		return 2;
	}
	int window = !strcmp(argv[2], "window");
	codes_grib_multi_support_on(NULL);
	for (int k = 3; k < argc; k++) {
		size_t points = 0, fields = 0;
		long rounds = 0;
		double begin = cpu(), took;
		do {
			points += decode(argv[k], window, &fields);
			rounds++;
		} while ((took = cpu() - begin) < atof(argv[1]));
		printf("BenchmarkEcCodes/%s/%s %ld %.0f ns/op %.4g Mpoints/s %.4g s/file\n", argv[2], basename(argv[k]), rounds,
		       took / rounds * 1e9, points / 1e6 / took, took / rounds);
	}
	return 0;
}
