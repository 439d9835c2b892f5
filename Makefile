# Needs Go, make and git; the first run of a target downloads and builds its
# tools, later runs work offline. Everything built goes to .bin.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

# A checkout that git does not trust must build as well.
export GOFLAGS += -buildvcs=false

# How much make fuzz gives each target: a count of inputs (100000x), which always
# ends cleanly, or a time (30s).
FUZZTIME ?= 100000x

# How many truths make calibrate holds landings against, 1000 or more.
TRUTHS ?= 2000

# How long make load lasts.
LOAD ?= 5m

# The packages that start goroutines or serve many callers at once.
# Without SLOW, which flies dozens to hundreds of plans by the same code as smaller tests.
SLOW = ^(TestVaryAgainstEveryPlan|TestEveryFieldAtItsExtremes|TestLayersThatAreTooMuch|TestLoadBeyondRoom|TestForeignLoad|TestNarrowHoldsTruths)$$
RACE = $(addprefix ./,$(wildcard internal/ensemble internal/mission internal/rpc))

GENERATORS = $(addprefix .bin/,buf protoc-gen-go protoc-gen-go-grpc protoc-gen-grpc-gateway protoc-gen-openapiv2)

.PHONY: vulns help demo test check vet lint format proto-lint proto-fresh proto-breaking bench generate landed fuzz load calibrate

help: ## print this list
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  \1\t\2/p' $(MAKEFILE_LIST) | expand -t 16

demo: ## fly the example plan on a real forecast and say where the result is
	@mkdir -p .bin
	go build -o .bin/thistledown ./cmd/thistledown
	@scripts/demo

test: check ## run every check and every test but the named long ones
	@scripts/browser
	go test -timeout 25m ./...
ifneq ($(RACE),)
	@if command -v gcc >/dev/null; then \
		echo "CGO_ENABLED=1 go test -race -timeout 25m -skip '$(SLOW)' $(RACE)"; CGO_ENABLED=1 go test -race -timeout 25m -skip '$(SLOW)' $(RACE); \
	else \
		echo "left out: the run with the race detector, which needs gcc"; \
	fi
endif

check: vulns vet lint format proto-lint proto-fresh proto-breaking ## vet, lint, formatting, schema, stale generated code

vulns: .bin/govulncheck .bin/indexdb
	@scripts/vulns

vet:
	go vet ./...

lint: .bin/golangci-lint
	.bin/golangci-lint run ./...

format: .bin/golangci-lint
	.bin/golangci-lint fmt --diff

proto-lint: .bin/buf
	.bin/buf lint proto

proto-fresh: $(GENERATORS)
	@fresh=$$(mktemp -d); trap 'rm -rf "$$fresh"' EXIT; \
	.bin/buf generate --template proto/buf.gen.yaml -o "$$fresh"; \
	diff -rq --exclude='*.proto' --exclude=openapi.go "$$fresh/proto/thistledown" proto/thistledown >/dev/null || \
		{ echo "proto: the generated code does not match the schema: run make generate"; exit 1; }

# The schema as callers have it. What is in it is never taken back.
LANDED = proto/landed.binpb
IMAGE = .bin/buf build proto --exclude-source-info

proto-breaking: .bin/buf
	.bin/buf breaking proto --against $(LANDED)
	@$(IMAGE) -o -#format=binpb | cmp -s - $(LANDED) || \
		{ echo "proto: the schema has what $(LANDED) has not: run make landed"; exit 1; }

bench: ## run the benchmarks, and unpacking beside ecCodes and the grib module
	go test -run '^$$' -bench . -benchmem $(sort $(dir $(addprefix ./,$(shell grep -rl --include='*_test.go' '^func Benchmark' cmd internal))))
	@scripts/grib/bench
	@if [ -x /usr/bin/python3 ]; then /usr/bin/python3 scripts/flight/tools.py; \
	else echo "left out: flights by Python's tools, for want of Debian's python3"; fi

generate: $(GENERATORS) ## write the Go code of the schema anew
	rm -f proto/thistledown/v1/*.pb.go proto/thistledown/v1/*.pb.gw.go proto/thistledown/v1/*.swagger.json
	.bin/buf generate --template proto/buf.gen.yaml

landed: .bin/buf ## take additions of the schema into what may not be broken
	.bin/buf breaking proto --against $(LANDED)
	$(IMAGE) -o $(LANDED)

fuzz: ## run each fuzz target on FUZZTIME inputs (100000x)
	@FUZZTIME=$(FUZZTIME) scripts/fuzz

load: ## 64 callers for LOAD (5m) on loopback while forecasts are swapped under them, then too many
	THISTLEDOWN_LOAD=$(LOAD) go test -count=1 -timeout 30m -v -run '^TestLoad' ./internal/rpc

calibrate: ## hold landing regions against TRUTHS truths (2000) of invented weather
	THISTLEDOWN_CALIBRATE=$(TRUTHS) go test -count=1 -timeout 60m -v -run '^TestCalibration' ./internal/ensemble

# Each tool has a module of its own, so that none decides the versions of
# another's dependencies or of ours. make .bin/grpcurl builds one by hand.
.bin/%: scripts/tools/%/go.mod scripts/tools/%/go.sum
	@mkdir -p .bin
	cd scripts/tools/$* && go build -o ../../../.bin/ tool
	@touch $@
